"""Makes circles come out to size: corrects the holes and bosses of a finished G-code program."""
