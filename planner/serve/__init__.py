"""The page on the home network: the same calls as the commands, over HTTP. An optional extra that nothing but its own command loads."""
