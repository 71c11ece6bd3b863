package main

import (
	"context"
	"encoding/json"
	"errors"
	"flag"
	"fmt"
	"strings"
	"time"

	"github.com/google/uuid"

	"croftmark/domain"
	"croftmark/storage"
)

// tokenFor is whom the token command makes a token for.
type tokenFor struct {
	person, role, label, expires string
}

func (f *tokenFor) flags(flags *flag.FlagSet) {
	flags.StringVar(&f.person, "person", "", "name, initials or id of the person")
	flags.StringVar(&f.role, "role", "", "look among the people of one role only: owner, lead, crew, reader")
	flags.StringVar(&f.label, "label", "made on the terminal", "what the token is for")
	flags.StringVar(&f.expires, "expires", "", "last day of the token, YYYY-MM-DD")
}

// token makes a fresh token for a person and prints it once, in the line of JSON that init prints. It is the way back
// into a farm whose tokens are lost, and into one that was restored: whoever holds the data folder or the database may
// run it, and nobody else.
func (s settings) token(ctx context.Context, farm string, f tokenFor) error {
	if f.person == "" && f.role == "" {
		return errors.New("say for whom: croftmark token --person NAME")
	}
	return s.withDatabase(ctx, func(d *database, db *storage.DB) error {
		id, err := farmOf(ctx, d, db, farm)
		if err != nil {
			return err
		}
		person, err := f.find(ctx, db, id)
		if err != nil {
			return err
		}
		expires, err := f.end(ctx, db, id)
		if err != nil {
			return err
		}
		token, err := db.NewToken(ctx, storage.Actor{FarmID: id}, storage.Token{PersonID: person.ID, Label: f.label, ExpiresAt: expires})
		if err != nil {
			return err
		}
		return json.NewEncoder(s.out).Encode(storage.Opened{FarmID: id, PersonID: person.ID, Token: token})
	})
}

// end gives the first instant after the last day of the token, by the farm's calendar; none when no day was given.
func (f tokenFor) end(ctx context.Context, db *storage.DB, farm uuid.UUID) (time.Time, error) {
	if f.expires == "" {
		return time.Time{}, nil
	}
	day, err := domain.ParseDate(f.expires)
	if err != nil {
		return time.Time{}, fmt.Errorf("--expires: %w", err)
	}
	today, about, err := db.Today(storage.Reading{Ctx: ctx, Farm: farm})
	if err != nil {
		return time.Time{}, err
	}
	if day.Before(today) {
		return time.Time{}, fmt.Errorf("--expires %s has passed; today is %s", day, today)
	}
	zone, err := domain.Zone(about.TimeZone)
	return day.AddDays(1).In(zone), err
}

// find gives the one person meant, among those whose time has not ended.
func (f tokenFor) find(ctx context.Context, db *storage.DB, farm uuid.UUID) (found domain.Person, err error) {
	people, err := activePeople(ctx, db, farm)
	if err != nil {
		return found, err
	}
	var names, fits []string
	for _, p := range people {
		if f.role != "" && string(p.Role) != f.role {
			continue
		}
		line := fmt.Sprintf("%s (%s, %s, %s)", p.Name, p.Initials, p.Role, p.ID)
		names = append(names, line)
		if f.person == "" || strings.EqualFold(f.person, p.Name) || strings.EqualFold(f.person, p.Initials) || f.person == p.ID.String() {
			found, fits = p, append(fits, line)
		}
	}
	switch len(fits) {
	case 0:
		return found, fmt.Errorf("there is nobody of that name; there are: %s", strings.Join(names, "; "))
	case 1:
		return found, nil
	}
	return found, fmt.Errorf("that is more than one person; name one by the id: %s", strings.Join(fits, "; "))
}

// activePeople lists the people whose time has not ended, oldest first.
func activePeople(ctx context.Context, db *storage.DB, farm uuid.UUID) (out []domain.Person, err error) {
	today, _, err := db.Today(storage.Reading{Ctx: ctx, Farm: farm})
	if err != nil {
		return nil, err
	}
	page := storage.Page{Limit: 500}
	for {
		records, err := db.Records(ctx, farm, "person", page)
		if err != nil {
			return nil, err
		}
		for i, record := range records {
			if i == page.Limit {
				break // the one more that says that there are more
			}
			var p domain.Person
			if err := record.Into(&p); err != nil {
				return nil, err
			}
			if !record.Voided && p.Active(today) {
				out = append([]domain.Person{p}, out...)
			}
			page.Before, page.LastID = record.FirstSeq, record.ID
		}
		if len(records) <= page.Limit {
			return out, nil
		}
	}
}
