package cluster

import (
	"context"
	"os"
	"path/filepath"
	"testing"
	"time"
)

// wantComplete checks what only a finished first start leaves.
func wantComplete(t *testing.T, c *Cluster, folder string) {
	t.Helper()
	connect(t, c.ServiceURL(Database))
	if exists(filepath.Join(folder, "postgres.new")) {
		t.Error("postgres.new is still there")
	}
}

func TestFirstStartKilledInInitdb(t *testing.T) {
	t.Parallel()
	folder := newFolder(t)
	other := newHelper(t, folder)
	eventually(t, "initdb is half done", func() bool { return exists(filepath.Join(folder, "postgres.new", "base", "1", "PG_VERSION")) })
	kill9(t, other.cmd.Process.Pid)
	if line := other.line(); line != "" {
		t.Fatalf("the other Croftmark was not killed in time, it says %q", line)
	}
	if exists(filepath.Join(folder, "postgres")) {
		t.Fatal("a half-made cluster was put in place")
	}
	wantComplete(t, start(t, folder), folder)
}

func TestFirstStartKilledBeforeRoles(t *testing.T) {
	t.Parallel()
	folder := newFolder(t)
	s := surveyed(t, folder)
	must(t, os.Mkdir(s.fresh(), 0o700))
	must(t, s.account.own(s.fresh()))
	must(t, s.initdb(t.Context()))
	wantComplete(t, start(t, folder), folder)
}

func TestFirstStartKilledBeforeRename(t *testing.T) {
	t.Parallel()
	folder := seeded(t)
	must(t, os.Rename(filepath.Join(folder, "postgres"), filepath.Join(folder, "postgres.new")))
	c := start(t, folder)
	wantComplete(t, c, folder)
	// The table shows that the complete cluster was kept, not made again.
	wantKept(t, c, nil, 0)
}

func TestFirstStartGivenUp(t *testing.T) {
	t.Parallel()
	folder := newFolder(t)
	ctx, cancel := context.WithCancel(t.Context())
	go func() {
		for !exists(filepath.Join(folder, "postgres.new", "PG_VERSION")) && t.Context().Err() == nil {
			time.Sleep(time.Millisecond)
		}
		cancel()
	}()
	_, err := Start(ctx, Options{DataDir: folder, Durable: true})
	wantText(t, err, "could not be made", "initdb")
	for _, name := range []string{"postgres", "postgres.new"} {
		if exists(filepath.Join(folder, name)) {
			t.Errorf("%s is still there", name)
		}
	}
}

func TestForeignClusterIsLeftAlone(t *testing.T) {
	t.Parallel()
	for name, prepare := range map[string]func(t *testing.T, data string){
		"a cluster of somebody else": func(t *testing.T, data string) { must(t, os.Remove(filepath.Join(data, marker))) },
		"a part of a copy":           func(t *testing.T, data string) { must(t, os.Remove(filepath.Join(data, "PG_VERSION"))) },
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			folder := seeded(t)
			data := filepath.Join(folder, "postgres")
			prepare(t, data)
			before, err := os.ReadDir(data)
			must(t, err)
			_, err = Start(t.Context(), Options{DataDir: folder, Durable: true})
			wantText(t, err, data, "it was left as it is")
			after, err := os.ReadDir(data)
			must(t, err)
			if len(after) != len(before) {
				t.Errorf("%d entries were left of %d", len(after), len(before))
			}
		})
	}
}

func TestEmptyDatabaseFolderIsUsed(t *testing.T) {
	t.Parallel()
	folder := seeded(t)
	data := filepath.Join(folder, "postgres")
	must(t, os.Rename(data, data+".new"))
	must(t, os.Mkdir(data, 0o755))
	wantComplete(t, start(t, folder), folder)
}

func TestLogIsCutWhenLarge(t *testing.T) {
	t.Parallel()
	folder := seeded(t)
	s := surveyed(t, folder)
	must(t, os.WriteFile(s.logPath(), make([]byte, logLimit+1), 0o600))
	start(t, folder)
	info, err := os.Stat(s.logPath())
	must(t, err)
	if info.Size() == 0 || info.Size() > logLimit {
		t.Errorf("the log has %d bytes, want a new and short one", info.Size())
	}
}
