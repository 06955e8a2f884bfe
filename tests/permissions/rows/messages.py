from tests.cast import Cast
from tests.permissions.row import by_link, open_to_all

ASK = ("GET", "POST")
CLOSED = {410}


def a_token(_cast: Cast) -> dict[str, object]:
    return {"token": "never-sent"}


ROWS = [
    # Red in a test, where no sweep ever ran.
    open_to_all("health", outside={200, 503}),
    open_to_all("private_link", methods=ASK, args=a_token, outside=CLOSED),
    open_to_all("private_link_new", methods=("POST",), args=a_token),
    open_to_all("private_new", methods=("POST",)),
    open_to_all("private_end", methods=ASK, args=a_token, outside=CLOSED),
    by_link("private_who", methods=ASK, outside=CLOSED),
    by_link("private_code", methods=ASK, outside=CLOSED),
    by_link("preferences", methods=ASK, outside=CLOSED),
]
