-- Nothing but the present folder can be read or written from here on, and no setting changed.
SET allowed_directories = ['./'];
SET enable_external_access = false;
SET lock_configuration = true
