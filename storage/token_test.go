package storage_test

import (
	"strings"
	"testing"

	"croftmark/domain"
	"croftmark/storage"
)

// A token opens its own farm and nothing once it, or the person, has ended.
func TestTokensEnd(t *testing.T) {
	t.Parallel()
	f := newField(t, storage.Config{})
	crew := f.person("Cory", domain.Crew)
	token, err := f.db.NewToken(ctx, f.actor, storage.Token{PersonID: crew.PersonID, Label: "phone", ExpiresAt: at("2026-12-01", 0)})
	if err != nil || !strings.HasPrefix(token, "cm_") || len(token) != 3+32 {
		t.Fatalf("token %q (%v)", token, err)
	}
	in := func() error { _, err := f.db.SignedIn(ctx, token); return err }
	if err := in(); err != nil {
		t.Error(err)
	}
	if n := f.count(`select count(*) from tokens t where position($1 in t::text) > 0 or position(encode($2, 'hex') in t::text) > 0`, token, []byte(token)); n != 0 {
		t.Error("the token itself is kept")
	}
	for _, wrong := range []string{"", "cm_", token + "0", strings.ToLower(token), token[:len(token)-1]} {
		_, err := f.db.SignedIn(ctx, wrong)
		wantCode(t, err, domain.CodeNotSignedIn)
	}
	f.clock.SetDay("2026-12-02")
	wantCode(t, in(), domain.CodeNotSignedIn)
	f.clock.SetDay("2026-11-26")
	if err := in(); err != nil {
		t.Error(err)
	}
	if _, err := f.void("person", crew.PersonID); err != nil {
		t.Fatal(err)
	}
	wantCode(t, in(), domain.CodeNotSignedIn)
	_, err = f.db.NewToken(ctx, f.actor, storage.Token{PersonID: crew.PersonID, Label: "another"})
	wantCode(t, err, domain.CodeNotFound)
	_, err = f.db.NewToken(ctx, f.actor, storage.Token{PersonID: f.bed, Label: "a bed's"})
	wantCode(t, err, domain.CodeNotFound)
}
