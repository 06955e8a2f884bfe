-- Makes the two roles and the database, once, as a superuser. docs/database-roles.md says who uses which.
-- The passwords come from the environment, where no other user of the machine can read them.
\set ON_ERROR_STOP on
\getenv owner_password CASEBOOK_OWNER_PASSWORD
\getenv app_password CASEBOOK_APP_PASSWORD
-- CREATEDB: the weekly check restores a backup into a database that it makes and removes.
CREATE ROLE casebook_owner LOGIN CREATEDB PASSWORD :'owner_password';
CREATE ROLE casebook_app LOGIN PASSWORD :'app_password';
CREATE DATABASE casebook OWNER casebook_owner ENCODING 'UTF8' TEMPLATE template0;
REVOKE ALL ON DATABASE casebook FROM PUBLIC;
