#!/bin/sh
# Run once by the database's own start on an empty volume: a second role for the web and the workers. It owns nothing,
# so it cannot alter a table or disable a trigger; what it may read and insert is granted by the migrate service.
set -eu
: "${POSTGRES_USER:?}" "${POSTGRES_DB:?}" "${APP_PASSWORD:?}"
psql -v ON_ERROR_STOP=1 -v database="$POSTGRES_DB" -v password="$APP_PASSWORD" \
     --username "$POSTGRES_USER" --dbname "$POSTGRES_DB" <<'SQL'
CREATE ROLE daybook_app LOGIN NOSUPERUSER NOCREATEDB NOCREATEROLE PASSWORD :'password';
REVOKE ALL ON DATABASE :"database" FROM PUBLIC;
REVOKE CREATE ON SCHEMA public FROM PUBLIC;
GRANT CONNECT ON DATABASE :"database" TO daybook_app;
GRANT USAGE ON SCHEMA public TO daybook_app;
SQL
