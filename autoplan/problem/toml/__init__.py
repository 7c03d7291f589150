"""Files of problems: read in the short and the long form, written in the long one."""
