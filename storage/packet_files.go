package storage

import (
	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"croftmark/domain"
)

// packetFilesSQL finds the files of records that are, or that name, what the packet speaks of. Few records have files, so
// their whole text is looked through. What is private is left in the book.
const packetFilesSQL = `
select a.body, a.first_seq, r.kind, r.first_seq
from records r
	cross join lateral jsonb_array_elements_text(r.body -> 'attachments') as h (hash)
	join records a on a.farm_id = r.farm_id and a.kind = 'attachment' and not a.voided and a.body ->> 'hash' = h.hash
where r.farm_id = $1 and r.body ? 'attachments' and not r.voided
	and not coalesce((r.body ->> 'private')::boolean, false) and not coalesce((a.body ->> 'private')::boolean, false)
	and (r.id = any($2) or exists (select from unnest($3::text[]) as named (id) where strpos(r.body::text, named.id) > 0))
order by a.first_seq, r.first_seq`

// fillFiles lists the photos, lab reports and certificates that belong to the answer.
func (b *packetBuilder) fillFiles() error {
	ids := b.spokenOf()
	texts := make([]string, len(ids))
	for i, id := range ids {
		texts[i] = id.String()
	}
	rows, err := b.tx.Query(b.r.Ctx, packetFilesSQL, b.r.Farm, ids, texts)
	if err != nil {
		return err
	}
	type row struct {
		Body        []byte
		Entry       int64
		Kind        string
		RecordEntry int64
	}
	list, err := pgx.CollectRows(rows, pgx.RowToStructByPos[row])
	if err != nil {
		return err
	}
	for _, x := range list {
		of := domain.PacketFileOf{Kind: x.Kind, Entry: x.RecordEntry}
		if n := len(b.p.Files); n > 0 && b.p.Files[n-1].Entry == x.Entry {
			b.p.Files[n-1].Of = append(b.p.Files[n-1].Of, of)
			continue
		}
		var a domain.Attachment
		if err := (ref{Body: x.Body}).into(&a); err != nil {
			return err
		}
		b.p.Files = append(b.p.Files, domain.PacketFile{Hash: a.Hash, MediaType: a.MediaType, Name: a.Name, Bytes: a.Bytes, Entry: x.Entry, Of: []domain.PacketFileOf{of}})
	}
	return nil
}

// spokenOf lists the ids of what the packet holds.
func (b *packetBuilder) spokenOf() (ids []uuid.UUID) {
	for _, x := range b.p.Lots {
		ids = append(ids, x.ID)
	}
	for _, x := range b.p.Plantings {
		ids = append(append(ids, x.ID), x.SeedLotIDs...)
	}
	for _, x := range b.p.InputLots {
		ids = append(ids, x.ID)
	}
	for _, x := range b.p.Beds {
		ids = append(ids, x.ID)
	}
	for _, x := range b.p.Batches {
		ids = append(ids, x.ID)
	}
	for _, x := range b.p.Waters {
		ids = append(ids, x.ID)
	}
	for _, x := range b.p.Handling {
		ids = append(ids, x.ID)
	}
	for _, x := range b.p.Moves {
		ids = append(ids, x.ID)
	}
	return ids
}
