#!/usr/bin/env bash
# Run once by the image, when its data directory is empty. One role owns the tables and makes them, another serves requests
# and may read and write rows only; the superuser loses its password and can then be reached from inside the container only.
set -euo pipefail

psql --no-psqlrc --set ON_ERROR_STOP=1 --set owner_password="$(cat /run/secrets/owner_password)" \
    --set password="$(cat /run/secrets/database_password)" \
    --username "$POSTGRES_USER" --dbname postgres <<'SQL'
CREATE ROLE wearcourse LOGIN NOSUPERUSER NOCREATEDB NOCREATEROLE NOBYPASSRLS PASSWORD :'password';
CREATE ROLE wearcourse_owner LOGIN NOSUPERUSER NOCREATEDB NOCREATEROLE NOBYPASSRLS PASSWORD :'owner_password';
CREATE DATABASE wearcourse OWNER wearcourse_owner TEMPLATE template0 ENCODING 'UTF8' LOCALE 'C.UTF-8';
REVOKE ALL ON DATABASE wearcourse FROM PUBLIC;
GRANT CONNECT ON DATABASE wearcourse TO wearcourse;
ALTER ROLE CURRENT_USER PASSWORD NULL;
SQL
