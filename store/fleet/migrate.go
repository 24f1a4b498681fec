package fleet

import (
	"context"
	"embed"
	"errors"
	"fmt"
	"time"

	"flitch/store"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgconn"
)

//go:embed migrations/*.sql
var migrationFiles embed.FS

// migrationLock is the number of the advisory lock under which the tables are made: "flitch"
// in ASCII, so that nobody else's is meant.
const migrationLock = 0x666c69746368

func migrations() ([]string, error) { return store.Steps(migrationFiles) }

// Migrate makes the tables, or brings them up to date, and says from which schema to which.
// All of it is one transaction under a lock: two at once do it once. It only goes forward.
func Migrate(ctx context.Context, at Address) (from, to int, err error) {
	steps, err := migrations()
	if err != nil {
		return 0, 0, err
	}
	err = at.once(ctx, tablesWithin, func(ctx context.Context, tx pgx.Tx) error {
		if _, err := tx.Exec(ctx, "SELECT pg_advisory_xact_lock($1)", int64(migrationLock)); err != nil {
			return err
		}
		if from, err = schema(ctx, tx); err != nil {
			return err
		}
		if to = len(steps); from > to {
			return newer(from, to)
		}
		return forward(ctx, tx, from, steps)
	})
	return from, to, err
}

func forward(ctx context.Context, tx pgx.Tx, from int, steps []string) error {
	if from == 0 {
		if _, err := tx.Exec(ctx, `CREATE SCHEMA IF NOT EXISTS flitch; CREATE TABLE flitch.migrations
			(version integer PRIMARY KEY, at timestamptz NOT NULL DEFAULT now(), by name NOT NULL DEFAULT current_user)`); err != nil {
			return err
		}
	}
	for n := from + 1; n <= len(steps); n++ {
		if _, err := tx.Exec(ctx, steps[n-1]); err != nil {
			return err
		}
		if _, err := tx.Exec(ctx, "INSERT INTO flitch.migrations (version) VALUES ($1)", n); err != nil {
			return err
		}
	}
	return nil
}

// once runs fn in one transaction of a connection of its own.
func (a Address) once(ctx context.Context, within time.Duration, fn func(context.Context, pgx.Tx) error) error {
	conn, err := a.connect(ctx)
	if err != nil {
		return err
	}
	defer hangUp(conn)
	ctx, cancel := context.WithTimeout(ctx, within)
	defer cancel()
	return explain(pgx.BeginFunc(ctx, conn, func(tx pgx.Tx) error { return fn(ctx, tx) }), a.String())
}

// A querier is a connection or a transaction.
type querier interface {
	QueryRow(ctx context.Context, query string, args ...any) pgx.Row
}

// schema is the version of the tables; 0: there are none.
func schema(ctx context.Context, q querier) (version int, err error) {
	var there bool
	if err := q.QueryRow(ctx, "SELECT EXISTS (SELECT FROM pg_tables WHERE schemaname = 'flitch' AND tablename = 'migrations')").Scan(&there); err != nil || !there {
		return 0, err
	}
	return version, q.QueryRow(ctx, "SELECT coalesce(max(version), 0) FROM flitch.migrations").Scan(&version)
}

func newer(have, known int) error {
	return trouble(Schema, "install that flitch or a later one here", "the tables were made by a newer flitch (schema %d, this one knows %d)", have, known)
}

// current refuses tables that this flitch does not know.
func current(ctx context.Context, q querier) error {
	steps, err := migrations()
	if err != nil {
		return err
	}
	switch have, err := schema(ctx, q); {
	case err != nil:
		return err
	case have == 0:
		return trouble(Schema, "flitch fleet init, by the owner of the database", "there are no tables of flitch yet")
	case have < len(steps):
		return trouble(Schema, "flitch fleet init, by the owner of the database", "the tables are of schema %d, and this flitch needs %d", have, len(steps))
	case have > len(steps):
		return newer(have, len(steps))
	}
	return nil
}

// grants are what a site may do, and what who reads all of them may.
var grants = map[bool][]string{
	true: {
		"GRANT USAGE ON SCHEMA flitch TO %[1]s",
		"GRANT SELECT ON flitch.migrations TO %[1]s",
		"GRANT INSERT ON flitch.readings, flitch.commands, flitch.ticks, flitch.journal, flitch.signatures, flitch.removed TO %[1]s",
		"GRANT INSERT, SELECT (site, batch, said) ON flitch.records TO %[1]s",
		"GRANT SELECT, INSERT, UPDATE ON flitch.sites, flitch.states, flitch.glances TO %[1]s",
	},
	false: {
		"GRANT USAGE ON SCHEMA flitch TO %[1]s",
		"GRANT SELECT ON ALL TABLES IN SCHEMA flitch TO %[1]s",
	},
}

// Allow gives a user that is there the rights of a site, or of a reader of all sites. A site
// may add rows of its own, say anew how things stand there and under what name its history
// stands, and no more: not change what it has sent, not delete, not read what others sent.
func Allow(ctx context.Context, at Address, user string, site bool) error {
	return at.once(ctx, turnWithin, func(ctx context.Context, tx pgx.Tx) error {
		if err := current(ctx, tx); err != nil {
			return err
		}
		quoted := pgx.Identifier{user}.Sanitize()
		for _, grant := range grants[site] {
			_, err := tx.Exec(ctx, fmt.Sprintf(grant, quoted))
			var said *pgconn.PgError
			if errors.As(err, &said) && said.Code == "42704" {
				return trouble(Rights, "createuser --pwprompt "+user, "there is no user %s", user)
			}
			if err != nil {
				return err
			}
		}
		return allowed(ctx, tx, user, site)
	})
}

// allowed asks whether the rights were given: to who may not give them PostgreSQL only hints at
// that, and goes on.
func allowed(ctx context.Context, tx pgx.Tx, user string, site bool) error {
	right := map[bool]string{true: "INSERT", false: "SELECT"}[site]
	var has bool
	if err := tx.QueryRow(ctx, "SELECT has_schema_privilege($1, 'flitch', 'USAGE') AND has_table_privilege($1, 'flitch.readings', $2)", user, right).Scan(&has); err != nil {
		return err
	}
	if !has {
		return trouble(Rights, "flitch fleet init --site USER, by the owner", "%s was given no rights: who signed in may not give them", user)
	}
	return nil
}
