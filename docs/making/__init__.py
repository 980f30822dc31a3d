"""Pages made from the code itself: commands, file formats, columns, the API, figures of lessons."""
