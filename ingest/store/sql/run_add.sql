INSERT INTO run VALUES ($run_id, $kind, $made_at, $data_version, $as_of, $about)
