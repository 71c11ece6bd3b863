package domain

import "strings"

// foldName makes "North  edge" and "north edge" the same spot, probe, tap or tank.
func foldName(s string) string { return strings.ToLower(strings.Join(strings.Fields(s), " ")) }
