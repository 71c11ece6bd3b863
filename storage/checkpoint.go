package storage

import (
	"context"
	"crypto/rand"
	"fmt"
	"strconv"
	"strings"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"
	signednote "golang.org/x/mod/sumdb/note"
	"golang.org/x/mod/sumdb/tlog"

	"croftmark/domain"
)

// SignedCheckpoint is a checkpoint as it leaves the building: three lines of text (origin, size, root) with an Ed25519
// signature in the signed-note format, and the public key that verifies it.
type SignedCheckpoint struct {
	Checkpoint
	Note     string `json:"note" doc:"The signed note: origin, size and root, a blank line, and the signature."`
	Verifier string `json:"verifier_key" doc:"The public key, in the signed-note format."`
}

// SignedCheckpoint signs the state of the book now and keeps the note. The same state is signed once.
func (db *DB) SignedCheckpoint(ctx context.Context, farm uuid.UUID) (c SignedCheckpoint, err error) {
	err = db.transact(ctx, farm, "begin", planEach, nil, func(tx pgx.Tx) error {
		c, err = signCheckpoint(ctx, tx, farm)
		return err
	})
	return c, err
}

func signCheckpoint(ctx context.Context, tx pgx.Tx, farm uuid.UUID) (c SignedCheckpoint, err error) {
	head, key, err := readHead(ctx, tx, farm, "")
	if err != nil {
		return c, err
	}
	root, err := head.root()
	if err != nil {
		return c, err
	}
	c.Checkpoint = Checkpoint{Origin: originOf(key), Size: head.size, Root: root.String()}
	signer, verifier, err := signingKey(ctx, tx, farm, c.Origin)
	if err != nil {
		return c, err
	}
	// A state that was signed before keeps its note, with the key of that time: after a restore the key is a new one.
	err = tx.QueryRow(ctx, `select note, verifier from checkpoints where farm_id = $1 and size = $2`, farm, c.Size).Scan(&c.Note, &c.Verifier)
	if err == nil {
		return c, c.stands()
	}
	if err != pgx.ErrNoRows {
		return c, err
	}
	c.Verifier = verifier
	s, err := signednote.NewSigner(signer)
	if err != nil {
		return c, err
	}
	signed, err := signednote.Sign(&signednote.Note{Text: c.text()}, s)
	if err != nil {
		return c, err
	}
	c.Note = string(signed)
	_, err = tx.Exec(ctx, `insert into checkpoints (farm_id, size, note, verifier) values ($1, $2, $3, $4) on conflict do nothing`, farm, c.Size, c.Note, verifier)
	return c, err
}

// stands holds the kept note against the book as it is: a book that was changed since must not be given out under a
// signature of what it was, nor under a new one.
func (c SignedCheckpoint) stands() error {
	signed, err := OpenCheckpoint(c.Note, c.Verifier)
	if err != nil {
		return err
	}
	if signed != c.Checkpoint {
		return &BadEntry{c.Size, fmt.Sprintf("the book up to here is not the one that was signed at %d entries: root %s, signed %s", c.Size, c.Root, signed.Root)}
	}
	return nil
}

func originOf(farmKey string) string { return "croftmark/" + farmKey }

// text is what is signed.
func (c Checkpoint) text() string {
	return c.Origin + "\n" + strconv.FormatInt(c.Size, 10) + "\n" + c.Root + "\n"
}

// signingKey gives the farm's key pair, made at its first use.
func signingKey(ctx context.Context, tx pgx.Tx, farm uuid.UUID, origin string) (signer, verifier string, err error) {
	err = tx.QueryRow(ctx, `select signer, verifier from signing_keys where farm_id = $1`, farm).Scan(&signer, &verifier)
	if err != pgx.ErrNoRows {
		return signer, verifier, err
	}
	if signer, verifier, err = signednote.GenerateKey(rand.Reader, origin); err != nil {
		return "", "", err
	}
	if _, err = tx.Exec(ctx, `insert into signing_keys (farm_id, signer, verifier) values ($1, $2, $3) on conflict do nothing`, farm, signer, verifier); err != nil {
		return "", "", err
	}
	err = tx.QueryRow(ctx, `select signer, verifier from signing_keys where farm_id = $1`, farm).Scan(&signer, &verifier)
	return signer, verifier, err
}

// OpenCheckpoint verifies a signed checkpoint with nothing but the public key.
func OpenCheckpoint(signed, verifierKey string) (c Checkpoint, err error) {
	v, err := signednote.NewVerifier(verifierKey)
	if err != nil {
		return c, fmt.Errorf("the public key can't be read: %w", err)
	}
	n, err := signednote.Open([]byte(signed), signednote.VerifierList(v))
	if err != nil {
		return c, fmt.Errorf("the checkpoint's signature does not hold: %w", err)
	}
	lines := strings.Split(n.Text, "\n")
	if len(lines) != 4 || lines[3] != "" {
		return c, fmt.Errorf("the checkpoint is not three lines")
	}
	if c.Size, err = strconv.ParseInt(lines[1], 10, 64); err != nil {
		return c, fmt.Errorf("the checkpoint's size can't be read: %w", err)
	}
	c.Origin, c.Root = lines[0], lines[2]
	return c, nil
}

// Consistency shows that the book at an older size is the beginning of the book now (RFC 6962 consistency proof).
type Consistency struct {
	From   int64      `json:"from"`
	Hashes []string   `json:"hashes"`
	To     Checkpoint `json:"to"`
}

// Consistency gives the proof that a checkpoint of an older size still holds.
func (db *DB) Consistency(ctx context.Context, farm uuid.UUID, from int64) (c Consistency, err error) {
	err = db.read(ctx, farm, func(tx pgx.Tx) error {
		head, key, err := readHead(ctx, tx, farm, "")
		if err != nil {
			return err
		}
		if from < 1 || from > head.size {
			return domain.NotFound("checkpoint of size", strconv.FormatInt(from, 10))
		}
		proof, err := tlog.ProveTree(head.size, from, bookHashes{ctx, tx, farm})
		if err != nil {
			return err
		}
		root, err := head.root()
		if err != nil {
			return err
		}
		c = Consistency{From: from, Hashes: []string{}, To: Checkpoint{originOf(key), head.size, root.String()}}
		for _, h := range proof {
			c.Hashes = append(c.Hashes, h.String())
		}
		return nil
	})
	return c, err
}
