"""What a field is: meshes in, fields and terminal quantities out."""
