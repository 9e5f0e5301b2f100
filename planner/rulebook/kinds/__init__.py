"""The kinds of conditions, a file each; `nodes.Condition` is their table."""
