"""What to do when there is no design, too little money, or a part is missing."""
