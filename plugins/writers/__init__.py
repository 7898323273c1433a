"""Writers: cut files and documents."""
