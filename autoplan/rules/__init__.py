"""One rule, one file: what must hold, how it enters the model, how a finished design is judged."""
