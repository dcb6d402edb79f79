INSERT INTO decision VALUES ($decision_id, $kind, $name, $state, $run_id, $who, $made_at, $note)
