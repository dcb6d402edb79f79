-- Nothing can be opened from here on, and no setting changed.
SET enable_external_access = false;
SET lock_configuration = true
