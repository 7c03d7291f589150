"""Price lists: CSV in, frozen parts and the joining graph out."""
