-- Where the disk of a used folder is mounted.
ALTER TABLE used_folder ADD COLUMN mount BLOB;
