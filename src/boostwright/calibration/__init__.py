"""Starting tables for the engine controller, made by the model that judged the parts."""
