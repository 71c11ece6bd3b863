package main

import "context"

const smallestBook = 5000

func (b *bench) measureBooks(ctx context.Context) error { return nil }
func (b *bench) labels(ctx context.Context) error       { return nil }
