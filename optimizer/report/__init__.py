"""What people read: cards, sheets, pictures, workbooks."""
