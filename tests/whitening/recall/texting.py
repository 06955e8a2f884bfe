"""What the gateway for short texts was given."""


class Texts(list[str]):
    taken = True
