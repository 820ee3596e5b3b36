"""What people write: settings, build sheet, bench log, table of lives; and the data cut."""
