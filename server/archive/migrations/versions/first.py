"""Version 1: the tables, partitions by month, and who may see and write which rows.

A run's month is that in which its site wrote it down, held to the archive's clock within bounds. It never changes and
is known of a run whose plan cannot be read, which the planned start would not be. All of a run is in one partition.
"""

from alembic import op
from alembic.util import CommandError

revision = "1"
down_revision = None
branch_labels = None
depends_on = None

_TABLES = """
CREATE TABLE festoon.sites (
    name text PRIMARY KEY, role text NOT NULL UNIQUE, url text NOT NULL,
    added timestamptz NOT NULL DEFAULT now(), retired timestamptz
);
CREATE TABLE festoon.readers (
    name text PRIMARY KEY, role text NOT NULL UNIQUE, every_site boolean NOT NULL,
    added timestamptz NOT NULL DEFAULT now(), retired timestamptz
);
CREATE TABLE festoon.readable_sites (
    reader text REFERENCES festoon.readers, site text REFERENCES festoon.sites, PRIMARY KEY (reader, site)
);
CREATE TABLE festoon.runs (
    site text REFERENCES festoon.sites, run text, local text NOT NULL, month date NOT NULL,
    plan_name text NOT NULL, plan_text text NOT NULL, created text NOT NULL, sum bigint,
    events integer NOT NULL DEFAULT 0, last_arrived text,
    day date NOT NULL, words text NOT NULL, plan_words text NOT NULL, houses text[] NOT NULL,
    facts jsonb, fault text, trouble jsonb, state text, damaged boolean NOT NULL DEFAULT false,
    put_away_at text, put_away_by text, deleted timestamptz,
    PRIMARY KEY (site, run), UNIQUE (site, run, month),
    -- What one site writes is read beside all others: what cannot be read of it must not come in.
    CHECK (created ~ '^(19|20|21)[0-9]{2}-.*Z$' AND created::timestamptz IS NOT NULL),
    CHECK (last_arrived IS NULL OR last_arrived ~ '^(19|20|21)[0-9]{2}-.*Z$' AND last_arrived::timestamptz IS NOT NULL),
    CHECK (put_away_at IS NULL OR put_away_at ~ '^(19|20|21)[0-9]{2}-.*Z$' AND put_away_at::timestamptz IS NOT NULL),
    CHECK (facts IS NULL OR jsonb_typeof(facts) = 'object' AND coalesce(facts->>'zero', '') ~ '^(19|20|21)[0-9]{2}-'
        AND (facts->>'zero')::timestamptz IS NOT NULL),
    CHECK (day BETWEEN '1900-01-01' AND '2199-12-31'),
    CHECK (jsonb_typeof(trouble) = 'object'),
    CHECK (state IN ('waiting', 'running', 'standing', 'over'))
);
CREATE INDEX runs_newest ON festoon.runs (day DESC, created DESC, site DESC, run DESC);
CREATE INDEX runs_of_site ON festoon.runs (site, day DESC, created DESC, run DESC);
CREATE INDEX runs_local ON festoon.runs (site, local);
CREATE TABLE festoon.events (
    site text, run text, seq integer, month date, arrived text NOT NULL, body text NOT NULL, sum bigint NOT NULL,
    PRIMARY KEY (site, run, seq, month),
    FOREIGN KEY (site, run, month) REFERENCES festoon.runs (site, run, month)
) PARTITION BY RANGE (month);
CREATE TABLE festoon.summaries (
    site text, run text, events integer NOT NULL, made_by text NOT NULL, body text NOT NULL,
    PRIMARY KEY (site, run), FOREIGN KEY (site, run) REFERENCES festoon.runs (site, run)
);
CREATE TABLE festoon.pictures (
    site text, run text, at timestamptz NOT NULL DEFAULT now() CHECK (at BETWEEN '2000-01-01Z' AND '2199-12-31Z'),
    body jsonb NOT NULL CHECK (jsonb_typeof(body) = 'object' AND length(body::text) <= 100000),
    PRIMARY KEY (site, run), FOREIGN KEY (site, run) REFERENCES festoon.runs (site, run)
);
CREATE TABLE festoon.heard (
    site text PRIMARY KEY REFERENCES festoon.sites, waiting integer NOT NULL,
    at timestamptz NOT NULL DEFAULT now() CHECK (at BETWEEN '2000-01-01Z' AND '2199-12-31Z')
);
"""

_FUNCTIONS = """
CREATE FUNCTION festoon.my_site() RETURNS text LANGUAGE sql STABLE SECURITY DEFINER
SET search_path = festoon, pg_temp AS $$
    SELECT name FROM sites WHERE role = session_user AND retired IS NULL
$$;
CREATE FUNCTION festoon.reads_all() RETURNS boolean LANGUAGE sql STABLE SECURITY DEFINER
SET search_path = festoon, pg_temp AS $$
    SELECT EXISTS (SELECT FROM readers WHERE role = session_user AND retired IS NULL AND every_site)
$$;
CREATE FUNCTION festoon.readable() RETURNS text[] LANGUAGE sql STABLE SECURITY DEFINER
SET search_path = festoon, pg_temp AS $$
    SELECT array(
        SELECT one.site FROM readable_sites one JOIN readers ON readers.name = one.reader
        WHERE readers.role = session_user AND readers.retired IS NULL
        UNION SELECT name FROM sites WHERE role = session_user AND retired IS NULL
    )
$$;
-- For the owner alone. A table is made by itself and attached: so it waits for nobody who reads.
CREATE FUNCTION festoon.make_month(opened date) RETURNS void LANGUAGE plpgsql VOLATILE
SET search_path = festoon, pg_temp SET lock_timeout = '3s' AS $$
DECLARE
    partition text := 'events_' || to_char(opened, 'YYYY_MM');
BEGIN
    IF to_regclass(format('festoon.%I', partition)) IS NOT NULL THEN
        RETURN;
    END IF;
    LOCK TABLE festoon.turn;
    IF to_regclass(format('festoon.%I', partition)) IS NULL THEN
        EXECUTE format('CREATE TABLE festoon.%I (LIKE festoon.events INCLUDING ALL)', partition);
        EXECUTE format('ALTER TABLE festoon.events ATTACH PARTITION festoon.%I FOR VALUES FROM (%L) TO (%L)',
            partition, opened, opened + interval '1 month');
    END IF;
END
$$;
CREATE FUNCTION festoon.open_month(wanted date) RETURNS date LANGUAGE plpgsql VOLATILE SECURITY DEFINER
SET search_path = festoon, pg_temp AS $$
DECLARE
    opened date := date_trunc('month', greatest(least(wanted, current_date + 40), date '2020-01-01'));
BEGIN
    PERFORM make_month(opened);
    RETURN opened;
END
$$;
-- A right to delete would be one to lock the table.
CREATE FUNCTION festoon.end_pictures(gone text[]) RETURNS void LANGUAGE sql VOLATILE SECURITY DEFINER
SET search_path = festoon, pg_temp AS $$
    DELETE FROM pictures WHERE site = my_site() AND run = ANY (gone)
$$;
REVOKE ALL ON ALL FUNCTIONS IN SCHEMA festoon FROM PUBLIC;
"""

_ROLES = """
DO $$
DECLARE
    at_sites text := current_database() || '_sites';
    at_readers text := current_database() || '_readers';
    one text;
BEGIN
    FOREACH one IN ARRAY ARRAY[at_sites, at_readers] LOOP
        IF NOT EXISTS (SELECT FROM pg_roles WHERE rolname = one) THEN
            EXECUTE format('CREATE ROLE %I NOLOGIN', one);
        END IF;
        EXECUTE format('GRANT USAGE ON SCHEMA festoon TO %I', one);
        EXECUTE format('GRANT EXECUTE ON FUNCTION festoon.my_site(), festoon.reads_all(), festoon.readable()'
            ' TO %I', one);
        EXECUTE format('GRANT SELECT ON festoon.sites, festoon.runs, festoon.events, festoon.summaries,'
            ' festoon.pictures, festoon.heard, festoon.alembic_version TO %I', one);
    END LOOP;
    EXECUTE format('GRANT EXECUTE ON FUNCTION festoon.open_month(date), festoon.end_pictures(text[]) TO %I', at_sites);
    EXECUTE format('GRANT INSERT ON festoon.runs, festoon.events, festoon.summaries, festoon.pictures, festoon.heard'
        ' TO %I', at_sites);
    EXECUTE format('GRANT UPDATE (plan_name, plan_text, sum, events, last_arrived, day, words, plan_words, houses,'
        ' facts, fault, trouble, state, damaged, put_away_at, put_away_by) ON festoon.runs TO %I', at_sites);
    -- By columns: who may change a whole table may lock it, and so hold up everybody.
    EXECUTE format('GRANT UPDATE (events, made_by, body) ON festoon.summaries TO %I', at_sites);
    EXECUTE format('GRANT UPDATE (at, body) ON festoon.pictures TO %I', at_sites);
    EXECUTE format('GRANT UPDATE (at, waiting) ON festoon.heard TO %I', at_sites);
END
$$;
"""

_ROWS = """
DO $$
DECLARE
    one text;
    own text := '(site = (SELECT festoon.my_site()))';
    seen text := '((SELECT festoon.reads_all()) OR %s = ANY ((SELECT festoon.readable())::text[]))';
BEGIN
    EXECUTE 'ALTER TABLE festoon.sites ENABLE ROW LEVEL SECURITY';
    EXECUTE 'CREATE POLICY seen ON festoon.sites FOR SELECT USING ' || format(seen, 'name');
    FOREACH one IN ARRAY ARRAY['runs', 'events', 'summaries', 'pictures', 'heard'] LOOP
        EXECUTE format('ALTER TABLE festoon.%I ENABLE ROW LEVEL SECURITY', one);
        EXECUTE format('CREATE POLICY seen ON festoon.%I FOR SELECT USING ', one) || format(seen, 'site');
        EXECUTE format('CREATE POLICY told ON festoon.%I FOR INSERT WITH CHECK ', one) || own;
        IF one <> 'events' THEN
            EXECUTE format('CREATE POLICY changed ON festoon.%I FOR UPDATE USING %s WITH CHECK %s', one, own, own);
        END IF;
    END LOOP;
END
$$;
"""


def upgrade() -> None:
    """Make all of it."""
    for statements in (_TABLES, _FUNCTIONS, _ROLES, _ROWS):
        # The driver takes a lone percent sign for a parameter's.
        op.get_bind().exec_driver_sql(statements.replace("%", "%%"))


def downgrade() -> None:
    """Refused: an archive goes forward only, and what it holds is let go of by an act of its own."""
    raise CommandError("An archive goes forward only.")
