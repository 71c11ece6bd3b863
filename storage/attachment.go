package storage

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"fmt"

	"github.com/jackc/pgx/v5"

	"croftmark/domain"
)

// File is a file beside the book, as it is downloaded.
type File struct {
	Attachment domain.Attachment
	Content    []byte
}

// Attach writes a file down: an entry says what it is, and its content is kept beside the book. A file that is there
// already is answered as it was written first. What the file is, its content says. A file that is asked to tell no place is
// drawn anew first; what the book holds, and vouches for, is then the new one.
func (db *DB) Attach(ctx context.Context, actor Actor, mark *domain.RequestMark, a *domain.Attachment, content []byte) (out Outcome, err error) {
	if a.Redrawn {
		silent, err := withoutNotes(content)
		if err != nil {
			return Outcome{}, err
		}
		content = silent
	}
	found, err := inspect(content)
	if err != nil {
		return Outcome{}, err
	}
	sum := sha256.Sum256(content)
	a.Hash, a.MediaType, a.Bytes = hex.EncodeToString(sum[:]), found.mediaType, int64(len(content))
	prior, err := db.write(ctx, actor, mark, func(w *writing) error {
		if err := domain.CheckRecord(a, w.today, w.zone); err != nil {
			return err
		}
		if err := w.giveID(a); err != nil {
			return err
		}
		known, err := w.attached(a.Hash)
		if err != nil {
			return err
		}
		if first, there := known[a.Hash]; there {
			out, err = w.attachedBefore(first, a)
			return err
		}
		if by := a.DoneBy; by != actor.PersonID {
			w.doneBy = by
		}
		if _, err := w.tx.Exec(ctx, insertFile, actor.FarmID, sum[:], found.mediaType, content, found.thumbnail); err != nil {
			return err
		}
		out, _, err = w.dispatch(a)
		return err
	})
	if err != nil {
		return Outcome{}, err
	}
	if prior != nil {
		return db.replayed(ctx, actor, prior)
	}
	return out, nil
}

// insertFile keeps a file. One whose record was voided may be there still.
const insertFile = `insert into attachment_files (farm_id, hash, media_type, content, thumbnail) values ($1, $2, $3, $4, $5) on conflict do nothing`

// attachedBefore answers a file that the book has with its first record. One that everybody reads can't become private by
// being sent again.
func (w *writing) attachedBefore(first domain.Attachment, a *domain.Attachment) (out Outcome, err error) {
	if a.Private && !first.Private {
		return out, domain.Refuse(domain.CodeRuleRefused, "In the book already", "This file is in the book already, and everybody of the farm may see it.")
	}
	w.quiet = true
	out.Record, err = w.current("attachment", first.ID)
	out.Replayed = true
	return out, err
}

// decideAttachment makes sure that the file itself is kept.
func (w *writing) decideAttachment(a *domain.Attachment) error {
	var kept bool
	err := w.tx.QueryRow(w.ctx, `select exists (select from attachment_files where farm_id = $1 and hash = decode($2, 'hex'))`, w.actor.FarmID, a.Hash).Scan(&kept)
	if err != nil {
		return err
	}
	var p domain.Problems
	p.Check(kept, "/hash", "The book has no such file. Send the file to /v1/attachments.")
	return p.Err()
}

// attached finds the attachments that still hold among some hashes.
func (w *writing) attached(hashes ...string) (map[string]domain.Attachment, error) {
	rows, err := w.tx.Query(w.ctx, `select body from records where farm_id = $1 and kind = 'attachment' and not voided and body ->> 'hash' = any($2)`, w.actor.FarmID, hashes)
	if err != nil {
		return nil, err
	}
	list, err := pgx.CollectRows(rows, func(row pgx.CollectableRow) (a domain.Attachment, err error) {
		var body []byte
		if err := row.Scan(&body); err != nil {
			return a, err
		}
		return a, (ref{Body: body}).into(&a)
	})
	out := map[string]domain.Attachment{}
	for _, a := range list {
		out[a.Hash] = a
	}
	return out, err
}

// checkAttachments makes sure that the files a record names are in the book, and that a private record shows none that
// everybody may see. A record without files costs nothing.
func (w *writing) checkAttachments(r domain.Record) error {
	hashes := domain.HabitsOf(r).Attachments
	if len(hashes) == 0 {
		return nil
	}
	known, err := w.attached(hashes...)
	if err != nil {
		return err
	}
	entry, _ := r.(*domain.LogEntry)
	var p domain.Problems
	for i, hash := range hashes {
		pointer := fmt.Sprintf("/attachments/%d", i)
		a, there := known[hash]
		switch {
		case !there || a.Private && !w.actor.Role.AtLeast(domain.Lead):
			p.Add(pointer, "This file is not in the book. Send it to /v1/attachments first.")
		case entry != nil && entry.Private && !a.Private:
			p.Add(pointer, "Everybody of the farm may see this file, and the entry is private. Send it anew as private, from another copy.")
		case a.Private && (entry == nil || !entry.Private):
			p.Add(pointer, "This file is private; it belongs on a private entry only.")
		}
	}
	return p.Err()
}

// File gives a file of the farm, and with small its thumbnail; a document has none. What is private only leads and the
// owner find.
func (db *DB) File(r Reading, hash string, small, private bool) (f File, err error) {
	raw, err := hex.DecodeString(hash)
	if err != nil {
		return f, domain.NotFound("file", hash)
	}
	column := "content"
	if small {
		column = "thumbnail"
	}
	err = db.read(r.Ctx, r.Farm, func(tx pgx.Tx) error {
		var body []byte
		err := tx.QueryRow(r.Ctx, `select f.`+column+`, a.body from attachment_files f
			join records a on a.farm_id = f.farm_id and a.kind = 'attachment' and a.body ->> 'hash' = encode(f.hash, 'hex')
			where f.farm_id = $1 and f.hash = $2 and f.`+column+` is not null and ($3 or not coalesce((a.body ->> 'private')::boolean, false))
			order by a.first_seq desc limit 1`, r.Farm, raw, private).Scan(&f.Content, &body)
		if err == pgx.ErrNoRows {
			return domain.NotFound("file", hash)
		}
		if err != nil {
			return err
		}
		return (ref{Body: body}).into(&f.Attachment)
	})
	return f, err
}
