"""The build sheet: drawings, pages, workbooks."""
