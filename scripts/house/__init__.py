"""House rules that no other linter knows: each one is here because a person was once misled without it."""
