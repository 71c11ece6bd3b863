package storage_test

import (
	"context"
	"encoding/json"
	"testing"
)

func decode(t testing.TB, raw []byte, v any) {
	t.Helper()
	if err := json.Unmarshal(raw, v); err != nil {
		t.Fatal(err)
	}
}

var ctx = context.Background()
