package storage

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"io"
	"maps"
	"slices"
	"strings"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"croftmark/domain"
)

// The files of an export: each is held to the hash by which an entry names it, so that a file can be neither left out,
// changed nor added.

// fileHashes lists the files that the first entries of a farm's book name, in a fixed order.
func fileHashes(ctx context.Context, tx pgx.Tx, farm uuid.UUID, entries int64) ([]string, error) {
	rows, err := tx.Query(ctx, `select distinct leaf::jsonb -> 'body' ->> 'hash' from book_entries
		where farm_id = $1 and seq <= $2 and kind = 'attachment' order by 1`, farm, entries)
	if err != nil {
		return nil, err
	}
	return pgx.CollectRows(rows, pgx.RowTo[string])
}

// keep remembers which file an entry names.
func (o *openedExport) keep(e *domain.Entry) error {
	if e.EntryKind != "attachment" {
		return nil
	}
	var a domain.Attachment
	if err := json.Unmarshal(e.Body, &a); err != nil {
		return &BadEntry{e.Seq, err.Error()}
	}
	if o.named[a.Hash] == 0 {
		o.named[a.Hash] = e.Seq
	}
	return nil
}

// eachFile reads every file that entries name, after the entries, and holds it to its hash.
func (o *openedExport) eachFile(fn func(hash string, content []byte) error) error {
	there := map[string]bool{}
	for _, f := range o.zip.File {
		hash, ours := strings.CutPrefix(f.Name, exportFiles)
		if !ours {
			continue
		}
		if o.named[hash] == 0 {
			return fmt.Errorf("the export holds the file %s, which no entry names", f.Name)
		}
		there[hash] = true
	}
	for _, hash := range slices.SortedFunc(maps.Keys(o.named), func(a, b string) int { return int(o.named[a] - o.named[b]) }) {
		if !there[hash] {
			return &BadEntry{o.named[hash], "the file that it names, " + hash + ", is missing"}
		}
		content, err := o.file(hash)
		if err != nil {
			return &BadEntry{o.named[hash], "the file that it names, " + hash + ", can't be read: " + err.Error()}
		}
		if sum := sha256.Sum256(content); hex.EncodeToString(sum[:]) != hash {
			return &BadEntry{o.named[hash], "the file that it names, " + hash + ", is not the one that was written down"}
		}
		if err := fn(hash, content); err != nil {
			return err
		}
	}
	if o.manifest.Files != len(there) {
		return fmt.Errorf("the manifest speaks of %d files, and there are %d", o.manifest.Files, len(there))
	}
	return nil
}

func (o *openedExport) file(hash string) ([]byte, error) {
	f, err := o.zip.Open(exportFiles + hash)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	return io.ReadAll(io.LimitReader(f, domain.MostAttachmentBytes+1))
}

// restoreFile keeps a file of an export; type and thumbnail are made from it again.
func restoreFile(ctx context.Context, tx pgx.Tx, farm uuid.UUID, hash string, content []byte) error {
	found, err := inspect(content)
	if err != nil {
		return fmt.Errorf("file %s: %w", hash, err)
	}
	raw, err := hex.DecodeString(hash)
	if err != nil {
		return err
	}
	_, err = tx.Exec(ctx, insertFile, farm, raw, found.mediaType, content, found.thumbnail)
	return err
}

// verifyFiles holds every file of a farm to the entries that name it.
func verifyFiles(ctx context.Context, tx pgx.Tx, farm uuid.UUID) error {
	var seq int64
	var hash string
	err := tx.QueryRow(ctx, `select e.seq, e.leaf::jsonb -> 'body' ->> 'hash' from book_entries e
			left join attachment_files f on f.farm_id = e.farm_id and encode(f.hash, 'hex') = e.leaf::jsonb -> 'body' ->> 'hash'
		where e.farm_id = $1 and e.kind = 'attachment' and (f.hash is null or sha256(f.content) <> f.hash) order by e.seq limit 1`, farm).Scan(&seq, &hash)
	if err == pgx.ErrNoRows {
		return nil
	}
	if err != nil {
		return err
	}
	return &BadEntry{seq, "the file that it names, " + hash + ", is missing or is not the one that was written down"}
}
