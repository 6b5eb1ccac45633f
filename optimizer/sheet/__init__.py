"""What a user holds in the hands: the build sheet, the workbook and the pictures."""
