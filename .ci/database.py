"""Make or drop a PostgreSQL database for one run. usage: database.py create NAME (prints its address) | drop NAME"""

import os
import sys

from sqlalchemy import create_engine, make_url, text

SERVER = make_url(os.environ.get("ALLOYREF_TEST_POSTGRES", "postgresql+psycopg://postgres@127.0.0.1:5432/postgres"))
action, name = sys.argv[1:]
if not name.isidentifier():
    sys.exit(f"{name!r} is no name for a database")
with create_engine(SERVER, isolation_level="AUTOCOMMIT").connect() as connection:
    connection.execute(
        text(f"CREATE DATABASE {name}" if action == "create" else f"DROP DATABASE {name} WITH (FORCE)")
    )
if action == "create":
    sys.stdout.write(SERVER.set(database=name).render_as_string(hide_password=False))
