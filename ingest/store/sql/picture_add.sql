-- The content of a picture, kept once.
INSERT INTO picture_content SELECT $picture, $content
WHERE NOT EXISTS (SELECT 1 FROM picture_content WHERE picture = $picture)
