package storage

import (
	"context"
	"crypto/rand"
	"encoding/base32"
	"strings"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"croftmark/domain"
)

// Opened is a new farm with its owner and the owner's token. The token is shown once and not kept.
type Opened struct {
	FarmID   uuid.UUID `json:"farm_id"`
	PersonID uuid.UUID `json:"person_id"`
	Token    string    `json:"token"`
}

// OpenFarm begins a book: its first entry is the farm, its second the owner.
func (db *DB) OpenFarm(ctx context.Context, farm *domain.Farm, owner *domain.Person) (o Opened, err error) {
	farm.ID, owner.ID = uuid.Must(uuid.NewV7()), uuid.Must(uuid.NewV7())
	farm.Key = randomKey(7)
	owner.Role = domain.Owner
	actor := Actor{FarmID: farm.ID, PersonID: owner.ID, Role: domain.Owner}
	// The empty book is made in the same transaction, so a farm that is refused leaves nothing. Id and key are ours.
	const head = "insert into book_heads (farm_id, farm_key, seq, frontier) values ($1, $2, 0, '')"
	_, err = db.writeAt(ctx, head, []any{farm.ID, farm.Key}, actor, nil, func(w *writing) error {
		if err := w.setZone(farm.TimeZone); err != nil {
			return err
		}
		for _, r := range []domain.Record{farm, owner} {
			if err := domain.CheckRecord(r, w.today, w.zone); err != nil {
				return err
			}
			if _, err := w.newRecord(r); err != nil {
				return err
			}
		}
		return w.index().farmPrefix(farm)
	})
	if err != nil {
		return o, err
	}
	token, err := db.NewToken(ctx, actor, Token{PersonID: owner.ID, Label: "opened with the farm"})
	return Opened{FarmID: farm.ID, PersonID: owner.ID, Token: token}, err
}

// setZone sets zone and day for the first entry, when the book has no farm record yet.
func (w *writing) setZone(name string) error {
	zone, err := domain.Zone(name)
	if err != nil {
		var p domain.Problems
		p.Add("/time_zone", "%q is not a time zone we know. Use a name such as America/New_York or America/Los_Angeles.", name)
		return p.Err()
	}
	w.zone, w.today = zone, domain.DateIn(w.now, zone)
	return nil
}

const keyLetters = "0123456789ABCDEFGHJKMNPQRSTVWXYZ"

// keyAlphabet leaves out the letters people mistake for others.
var keyAlphabet = base32.NewEncoding(keyLetters).WithPadding(base32.NoPadding)

func randomKey(length int) string {
	raw := make([]byte, length)
	rand.Read(raw) // never fails, crypto/rand
	return keyAlphabet.EncodeToString(raw)[:length]
}

// People gives the names of the farm's people by id, with those who have left.
func (db *DB) People(r Reading) (out map[uuid.UUID]string, err error) {
	out = map[uuid.UUID]string{}
	err = db.read(r.Ctx, r.Farm, func(tx pgx.Tx) error {
		rows, err := tx.Query(r.Ctx, `select id, body ->> 'name' from records where farm_id = $1 and kind = 'person'`, r.Farm)
		if err != nil {
			return err
		}
		type named struct {
			ID   uuid.UUID
			Name string
		}
		list, err := pgx.CollectRows(rows, pgx.RowToStructByPos[named])
		for _, n := range list {
			out[n.ID] = n.Name
		}
		return err
	})
	return out, err
}

// FarmByKey finds a farm by the short mark in its label links.
func (db *DB) FarmByKey(ctx context.Context, key string) (uuid.UUID, error) {
	if strings.Trim(key, keyLetters) != "" {
		return uuid.Nil, domain.NotFound("farm", key) // a key has other letters; this need not be asked
	}
	var farm *uuid.UUID
	if err := db.pool.QueryRow(ctx, `select croftmark_farm_by_key($1)`, key).Scan(&farm); err != nil {
		return uuid.Nil, translate(err)
	}
	if farm == nil {
		return uuid.Nil, domain.NotFound("farm", key)
	}
	return *farm, nil
}

// FarmIDs lists all farms of a database, for commands that go through every book. It needs the owner's URL: the service
// sees one farm at a time.
func FarmIDs(ctx context.Context, ownerURL string) ([]uuid.UUID, error) {
	conn, err := connectTo(ctx, ownerURL)
	if err != nil {
		return nil, err
	}
	defer conn.Close(ctx)
	rows, err := conn.Query(ctx, `select farm_id from book_heads where seq > 0 order by farm_id`)
	if err != nil {
		return nil, err
	}
	return pgx.CollectRows(rows, pgx.RowTo[uuid.UUID])
}
