"""What a loop is: kinds of part with their laws, sheets, plants."""
