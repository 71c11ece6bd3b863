package main

import (
	"archive/zip"
	"bufio"
	"compress/flate"
	"context"
	"crypto/sha256"
	"fmt"
	"io"
	"path/filepath"
	"time"

	"github.com/jackc/pgx/v5"
)

// exports measures the commands that go through the whole book.
func (b *bench) exports(ctx context.Context, book *openBook) error {
	file := filepath.Join(b.folder, "again.zip")
	bare, err := barePacking(ctx, book)
	if err != nil {
		return err
	}
	began := time.Now()
	if _, err := b.program.Run(ctx, "export", file, "--data", book.service.Data); err != nil {
		return err
	}
	b.rate(book.name, "export", book.Entries, time.Since(began), floor{float64(book.Entries) / bare.Seconds(), "reading texts and hashes in order, packing them"}, "")
	if bare, err = bareUnpacking(file); err != nil {
		return err
	}
	began = time.Now()
	if _, err = b.program.Run(ctx, "verify", file); err != nil {
		return err
	}
	b.rate(book.name, "verify, of an export", book.Entries, time.Since(began), floor{float64(book.Entries) / bare.Seconds(), "unpacking the texts, SHA-256 of each"}, "≥ 200,000 /s")
	return nil
}

// barePacking reads what an export holds and packs it as one stream, for nobody.
func barePacking(ctx context.Context, book *openBook) (time.Duration, error) {
	began := time.Now()
	packed, err := flate.NewWriter(io.Discard, flate.DefaultCompression)
	if err != nil {
		return 0, err
	}
	rows, err := book.conn.Query(ctx, `select leaf, hashes from book_entries where farm_id = $1 order by seq`, book.Farm)
	if err != nil {
		return 0, err
	}
	var leaf, hashes []byte
	if _, err := pgx.ForEachRow(rows, []any{&leaf, &hashes}, func() error {
		_, err := packed.Write(append(leaf, hashes...))
		return err
	}); err != nil {
		return 0, err
	}
	err = packed.Close()
	return time.Since(began), err
}

// bareUnpacking reads the entries of an export and hashes each.
func bareUnpacking(file string) (time.Duration, error) {
	began := time.Now()
	z, err := zip.OpenReader(file)
	if err != nil {
		return 0, err
	}
	defer z.Close()
	in, err := z.Open("book.jsonl")
	if err != nil {
		return 0, err
	}
	defer in.Close()
	lines := bufio.NewReaderSize(in, 1<<20)
	for {
		line, err := lines.ReadSlice('\n')
		if err == io.EOF {
			return time.Since(began), nil
		}
		if err != nil {
			return 0, err
		}
		sha256.Sum256(line)
	}
}

// copiedAtMost is the biggest book whose tables are copied for a floor.
const copiedAtMost = 1_000_000

// restoring notes how fast a book was read in by this run, against the database copying the rows of all its tables, with
// their indexes, from one to another.
func (b *bench) restoring(ctx context.Context, book *openBook) error {
	if book.took == 0 {
		return nil // read in by an earlier run
	}
	under := floor{}
	if book.Entries <= copiedAtMost {
		bare, err := bareCopy(ctx, book)
		if err != nil {
			return err
		}
		under = floor{float64(book.Entries) / bare.Seconds(), "the database copying the rows of all tables, with indexes"}
	}
	b.rate(book.name, "restore", book.Entries, book.took, under, "")
	return nil
}

func bareCopy(ctx context.Context, book *openBook) (took time.Duration, err error) {
	rows, err := book.conn.Query(ctx, `select c.table_name::text from information_schema.columns c join information_schema.tables t using (table_schema, table_name)
		where c.table_schema = 'public' and c.column_name = 'farm_id' and t.table_type = 'BASE TABLE' and c.table_name not like 'floor%'`)
	if err != nil {
		return 0, err
	}
	tables, err := pgx.CollectRows(rows, pgx.RowTo[string])
	if err != nil {
		return 0, err
	}
	for _, table := range tables {
		if _, err := book.conn.Exec(ctx, fmt.Sprintf("create table floor_copy (like %s including all)", table)); err != nil {
			return 0, err
		}
		began := time.Now()
		if _, err := book.conn.Exec(ctx, "insert into floor_copy select * from "+table); err != nil {
			return 0, fmt.Errorf("copy %s: %w", table, err)
		}
		took += time.Since(began)
		if _, err := book.conn.Exec(ctx, "drop table floor_copy"); err != nil {
			return 0, err
		}
	}
	return took, nil
}
