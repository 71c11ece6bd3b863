package main

import "context"

func (f *faults) disks(ctx context.Context) error  { return nil }
func (f *faults) clocks(ctx context.Context) error { return nil }
