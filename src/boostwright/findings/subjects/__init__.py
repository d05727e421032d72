"""One file per subject. A file added here is found by the register; nothing else needs to change."""
