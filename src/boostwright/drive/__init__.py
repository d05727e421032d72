"""The judgement of a recorded drive: what happened, what the model expected then, what to change."""
