"""Invented engines that follow other laws than the program's models, and how well the bands hold them."""
