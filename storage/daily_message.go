package storage

import (
	"context"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"croftmark/domain"
)

// DailyMessage is a message as it is kept, without the secret that signs a webhook.
type DailyMessage struct {
	domain.DailyMessage
	ID        uuid.UUID
	PersonID  uuid.UUID
	Person    string
	MadeAt    time.Time
	SettledOn domain.Date // the last day that was sent, or given up
	SentAt    time.Time
	FailedAt  time.Time // of the last failure, if nothing was sent since
	Error     string
	// Ended says that the token by which it was asked for, or the person's time, has ended: nothing is sent any more.
	Ended bool
}

// mostDailyMessages is how many a person may ask for: so that nobody fills other people's mailboxes. Our own custom.
const mostDailyMessages = 5

// dailySQL reads messages with what decides whether they still stand.
const dailySQL = `select m.id, m.person_id, m.way, m.address, m.hour, m.language, m.secret, m.made_at, m.settled_on, m.sent_at, m.failed_at, m.error, m.tested_at,
		p.body, p.voided, t.revoked_at is not null or coalesce(t.expires_at <= $2, false), f.body ->> 'time_zone', f.body ->> 'name'
	from daily_messages m join records p on p.farm_id = m.farm_id and p.id = m.person_id
		join tokens t on t.farm_id = m.farm_id and t.id = m.token_id
		join records f on f.farm_id = m.farm_id and f.id = m.farm_id
	where m.farm_id = $1`

// dailyRow is a message with its farm and secret.
type dailyRow struct {
	DailyMessage
	farm, zone string
	secret     string
	testedAt   time.Time
}

func (db *DB) dailyRows(r Reading, tx pgx.Tx, where string, args ...any) ([]dailyRow, error) {
	now := db.instant()
	rows, err := tx.Query(r.Ctx, dailySQL+where, append([]any{r.Farm, now}, args...)...)
	if err != nil {
		return nil, err
	}
	return pgx.CollectRows(rows, func(row pgx.CollectableRow) (d dailyRow, err error) {
		var secret, failure *string
		var sent, failed, tested *time.Time
		var person []byte
		var voided, tokenEnded bool
		if err := row.Scan(&d.ID, &d.PersonID, &d.Way, &d.To, &d.Hour, &d.Language, &secret, &d.MadeAt, &d.SettledOn, &sent, &failed, &failure, &tested,
			&person, &voided, &tokenEnded, &d.zone, &d.farm); err != nil {
			return d, err
		}
		d.SentAt, d.FailedAt, d.testedAt = orZero(sent), orZero(failed), orZero(tested)
		if failure != nil {
			d.Error = *failure
		}
		if secret != nil {
			d.secret = *secret
		}
		var p domain.Person
		if err := (ref{Body: person}).into(&p); err != nil {
			return d, err
		}
		zone, err := domain.Zone(d.zone)
		d.Person = p.Name
		d.Ended = voided || tokenEnded || err == nil && !p.Active(domain.DateIn(now, zone))
		return d, err
	})
}

// AskDaily keeps the wish to be told every day what is due. The first message comes at the next time that its hour begins. For
// a webhook it gives the secret that signs what is sent, this once.
func (db *DB) AskDaily(ctx context.Context, actor Actor, m domain.DailyMessage) (id uuid.UUID, secret string, err error) {
	if m.Language == "" {
		m.Language = actor.Language
	}
	if m.Language == "" {
		m.Language = "en"
	}
	if err := m.Check(); err != nil {
		return uuid.Nil, "", err
	}
	id = uuid.Must(uuid.NewV7())
	var signs *string
	if m.Way == domain.ByWebhook {
		secret, _ = newSecret("cw_")
		signs = &secret
	}
	r := Reading{Ctx: ctx, Farm: actor.FarmID}
	err = db.access(ctx, actor.FarmID, func(tx pgx.Tx) error {
		zone, err := farmZone(r, tx)
		if err != nil {
			return err
		}
		token, err := tokenBehind(r, tx, actor)
		if err != nil {
			return err
		}
		tag, err := tx.Exec(ctx, `insert into daily_messages (farm_id, id, person_id, token_id, way, address, hour, language, secret, made_at, settled_on)
			select $1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11 where (select count(*) from daily_messages where farm_id = $1 and person_id = $3) < $12`,
			actor.FarmID, id, actor.PersonID, token, m.Way, m.To, m.Hour, m.Language, signs, db.instant(), domain.FirstSettled(db.instant(), zone, m.Hour), mostDailyMessages)
		if err == nil && tag.RowsAffected() == 0 {
			err = domain.Refuse(domain.CodeRuleRefused, "Enough messages", "You have %d daily messages already. End one of them first.", mostDailyMessages)
		}
		return err
	})
	return id, secret, err
}

// tokenBehind gives the token by which the actor is signed in, also through a session that it opened.
func tokenBehind(r Reading, tx pgx.Tx, actor Actor) (token uuid.UUID, err error) {
	if !actor.Shown.Session {
		return actor.Shown.ID, nil
	}
	err = tx.QueryRow(r.Ctx, `select token_id from sessions where farm_id = $1 and id = $2`, r.Farm, actor.Shown.ID).Scan(&token)
	return token, err
}

// DailyMessages lists the actor's own messages, oldest first; the owner sees everybody's, so that it is known where the
// farm's duties are sent.
func (db *DB) DailyMessages(ctx context.Context, actor Actor) (out []DailyMessage, err error) {
	err = db.read(ctx, actor.FarmID, func(tx pgx.Tx) error {
		list, err := db.dailyRows(Reading{Ctx: ctx, Farm: actor.FarmID}, tx, ` and (m.person_id = $3 or $4) order by m.made_at, m.id`, actor.PersonID, actor.Role.AtLeast(domain.Owner))
		for _, d := range list {
			out = append(out, d.DailyMessage)
		}
		return err
	})
	return out, err
}

// EndDaily ends a message of the actor's own; the owner may end anybody's.
func (db *DB) EndDaily(ctx context.Context, actor Actor, id uuid.UUID) error {
	return db.access(ctx, actor.FarmID, func(tx pgx.Tx) error {
		tag, err := tx.Exec(ctx, `delete from daily_messages where farm_id = $1 and id = $2 and (person_id = $3 or $4)`,
			actor.FarmID, id, actor.PersonID, actor.Role.AtLeast(domain.Owner))
		if err == nil && tag.RowsAffected() == 0 {
			err = noDaily(id)
		}
		return err
	})
}

func noDaily(id uuid.UUID) error { return domain.NotFound("daily message", id.String()) }

// testEvery is how long a test of a message waits for the next.
const testEvery = time.Minute

// TestLetter gives the letter of a message of the actor's own as it would be sent now, for a test; once a minute.
func (db *DB) TestLetter(ctx context.Context, actor Actor, id uuid.UUID) (l domain.DailyLetter, err error) {
	var d dailyRow
	err = db.access(ctx, actor.FarmID, func(tx pgx.Tx) error {
		if _, err := tx.Exec(ctx, `select 1 from daily_messages where farm_id = $1 and id = $2 for update`, actor.FarmID, id); err != nil {
			return err
		}
		list, err := db.dailyRows(Reading{Ctx: ctx, Farm: actor.FarmID}, tx, ` and m.id = $3 and m.person_id = $4`, id, actor.PersonID)
		if err != nil {
			return err
		}
		if len(list) == 0 {
			return noDaily(id)
		}
		d = list[0]
		if d.Ended {
			return domain.Refuse(domain.CodeRuleRefused, "This message has ended", "It ended with the token by which it was asked for. End it, and ask for it anew.")
		}
		if wait := testEvery - db.instant().Sub(d.testedAt); wait > 0 && !d.testedAt.IsZero() {
			e := domain.Refuse(domain.CodeTooMany, "Wait a little", "A test of this message was sent within the minute.")
			e.After = wait
			return e
		}
		_, err = tx.Exec(ctx, `update daily_messages set tested_at = $3 where farm_id = $1 and id = $2`, actor.FarmID, id, db.instant())
		return err
	})
	if err != nil {
		return l, err
	}
	l, err = db.letter(ctx, actor.FarmID, d)
	l.Test = true
	return l, err
}

// letter writes what is due into a letter, as a reader sees it: letters are copied to other places, so nothing private is in
// them, whoever asks.
func (db *DB) letter(ctx context.Context, farm uuid.UUID, d dailyRow) (domain.DailyLetter, error) {
	duties, err := db.Due(ctx, Actor{FarmID: farm, PersonID: d.PersonID, Role: domain.Reader, Language: d.Language})
	return domain.DailyLetter{ID: d.ID, FarmID: farm, Farm: d.farm, On: duties.On, SentAt: db.instant(), AskedBy: d.Person, Language: d.Language,
		Due: domain.DueListed(duties.Due, duties.On), To: d.DailyMessage.DailyMessage, Secret: d.secret}, err
}
