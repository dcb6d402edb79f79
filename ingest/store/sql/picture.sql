SELECT content FROM picture_content WHERE picture = $picture
