"""What a plan tells, section by section, as blocks and not yet as text."""
