#!/usr/bin/env bash
# Run once by the image, when its data directory is empty. The service gets a role that owns its database and nothing
# else; the superuser loses its password and can then be reached from inside the container only.
set -euo pipefail

psql --no-psqlrc --set ON_ERROR_STOP=1 --set password="$(cat "$POSTGRES_PASSWORD_FILE")" \
    --username "$POSTGRES_USER" --dbname postgres <<'SQL'
CREATE ROLE wearcourse LOGIN NOSUPERUSER NOCREATEDB NOCREATEROLE NOBYPASSRLS PASSWORD :'password';
CREATE DATABASE wearcourse OWNER wearcourse TEMPLATE template0 ENCODING 'UTF8' LOCALE 'C.UTF-8';
REVOKE ALL ON DATABASE wearcourse FROM PUBLIC;
ALTER ROLE CURRENT_USER PASSWORD NULL;
SQL
