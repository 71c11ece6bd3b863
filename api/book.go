package api

import (
	"context"
	"net/http"

	"github.com/danielgtaylor/huma/v2"

	"croftmark/domain"
	"croftmark/storage"
)

type entriesInput struct {
	After  int64 `query:"after" minimum:"0" doc:"Entries with a higher number, oldest first."`
	Newest bool  `query:"newest" doc:"The last of them instead of the first; still oldest first."`
	Limit  int   `query:"limit" minimum:"1" maximum:"500" default:"50"`
}

type checkpointOutput struct {
	Body storage.SignedCheckpoint
}

type consistencyInput struct {
	From int64 `path:"from" minimum:"1" doc:"Size of the book on the older paper."`
}

type consistencyOutput struct {
	Body storage.Consistency
}

type proofInput struct {
	Entry int64 `path:"entry" minimum:"1"`
}

type proofOutput struct {
	Body storage.Proof
}

func (s *Server) registerBook() {
	entries := s.operation(http.MethodGet, "/v1/book/entries", "book-entries", "The book, entry by entry", "Book", domain.Reader, nil)
	huma.Register(s.api, entries, func(ctx context.Context, in *entriesInput) (*entriesOutput, error) {
		entries := s.db.Entries
		if in.Newest {
			entries = s.db.NewestEntries
		}
		list, err := entries(ctx, actorOf(ctx).FarmID, in.After, in.Limit)
		if err == nil {
			err = s.withhold(ctx, list)
		}
		if err != nil {
			return nil, problemOf(ctx, err)
		}
		if list == nil {
			list = []*domain.Entry{}
		}
		return &entriesOutput{Body: list}, nil
	})
	checkpoint := s.operation(http.MethodGet, "/v1/book/checkpoint", "book-checkpoint", "How long the book is, and the hash over all of it", "Book", domain.Reader, nil)
	huma.Register(s.api, checkpoint, func(ctx context.Context, _ *noInput) (*checkpointOutput, error) {
		c, err := s.db.SignedCheckpoint(ctx, actorOf(ctx).FarmID)
		if err != nil {
			return nil, problemOf(ctx, err)
		}
		return &checkpointOutput{Body: c}, nil
	})
	consistency := s.operation(http.MethodGet, "/v1/book/consistency/{from}", "book-consistency", "That the book on an older paper is the beginning of the book now", "Book", domain.Reader, nil)
	huma.Register(s.api, consistency, func(ctx context.Context, in *consistencyInput) (*consistencyOutput, error) {
		c, err := s.db.Consistency(ctx, actorOf(ctx).FarmID, in.From)
		if err != nil {
			return nil, problemOf(ctx, err)
		}
		return &consistencyOutput{Body: c}, nil
	})
	proof := s.operation(http.MethodGet, "/v1/book/proof/{entry}", "book-proof", "That an entry stands in the book", "Book", domain.Reader, nil)
	huma.Register(s.api, proof, func(ctx context.Context, in *proofInput) (*proofOutput, error) {
		p, err := s.db.Proof(ctx, actorOf(ctx).FarmID, in.Entry)
		if err == nil {
			err = s.withholdLeaf(ctx, &p)
		}
		if err != nil {
			return nil, problemOf(ctx, err)
		}
		return &proofOutput{Body: p}, nil
	})
}
