package storage

import "github.com/google/uuid"

// insertEntries adds entries to the book, given as lists by entryLists from the parameter $4 on; the farm is $1.
const insertEntries = `insert into book_entries (farm_id, ` + entryColumns + `)
	select $1, e.* from unnest($4::bigint[], $5::uuid[], $6::text[], $7::uuid[], $8::text[], $9::text[], $10::bytea[])
		as e (seq, id, kind, record_id, request_key, leaf, hashes)`

func entryLists(rows []entryRow) []any {
	n := len(rows)
	seqs, ids, kinds, recordIDs := make([]int64, n), make([]uuid.UUID, n), make([]string, n), make([]uuid.UUID, n)
	keys, leaves, hashes := make([]*string, n), make([][]byte, n), make([][]byte, n)
	for i, r := range rows {
		seqs[i], ids[i], kinds[i], recordIDs[i] = r.Seq, r.ID, r.Kind, r.RecordID
		keys[i], leaves[i], hashes[i] = r.RequestKey, r.Leaf, r.Hashes
	}
	return []any{seqs, ids, kinds, recordIDs, keys, leaves, hashes}
}

// appendEntries adds entries and moves the end of the book behind them.
func (x index) appendEntries(rows []entryRow, end *frontier) error {
	return x.exec(`with entries as (`+insertEntries+`) update book_heads set seq = $2, frontier = $3 where farm_id = $1`,
		append([]any{end.size, end.pack()}, entryLists(rows)...)...)
}
