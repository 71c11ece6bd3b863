package main

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"net"
	"net/http"
	"slices"
	"strings"
	"time"

	"github.com/jackc/pgx/v5"

	"croftmark/bench/rig"
)

// served is a service with one farm and a connection that looks behind its back.
type served struct {
	*rig.Service
	farm *rig.Farm
	conn *pgx.Conn
}

func (f *faults) serveFarm(ctx context.Context, name string) (*served, error) {
	service, err := f.program.Serve(ctx, f.data(name))
	if err != nil {
		return nil, err
	}
	url, err := service.OwnerURL(ctx)
	if err != nil {
		return nil, err
	}
	farms, err := openFarms(ctx, url, service.Address, 1)
	if err != nil {
		return nil, err
	}
	conn, err := pgx.Connect(ctx, url)
	return &served{service, farms[0], conn}, err
}

func (s *served) end(ctx context.Context) error {
	return errors.Join(s.conn.Close(ctx), s.Stop())
}

// entries counts what is in all books.
func (s *served) entries(ctx context.Context) (n int64, err error) {
	err = s.conn.QueryRow(ctx, `select coalesce(sum(seq), 0)::bigint from book_heads`).Scan(&n)
	return n, err
}

// floods sends bodies that are too large, broken or nested without end, and holds connections open by saying next to
// nothing, while an honest client goes on writing.
func (f *faults) floods(ctx context.Context) error {
	s, err := f.serveFarm(ctx, "flood")
	if err != nil {
		return err
	}
	defer s.end(context.WithoutCancel(ctx))
	slow, err := holdOpen(ctx, s.Address, 200)
	if err != nil {
		return err
	}
	honest, err := rig.Repeat(ctx, 50, func(ctx context.Context, n int) error {
		_, err := s.farm.Create(ctx, "/v1/applications", s.farm.Application(n, n))
		return err
	})
	f.say("flood", fmt.Sprintf("200 clients that send a byte a second: an honest one wrote 50 records, slowest %s", honest.Quantile(1).Round(time.Millisecond)), err)
	closed, err := closedBy(slow, 90*time.Second)
	f.say("flood", fmt.Sprintf("%d of 200 slow connections ended by the service", closed), err)
	before, err := s.entries(ctx)
	if err != nil {
		return err
	}
	statuses := map[int]int{}
	var wrong error
	for name, body := range badBodies() {
		for _, path := range []string{"/v1/applications", "/v1/harvest-lots", "/v1/bed-layouts", "/v1/compost-recipes"} {
			a, err := s.farm.Send(ctx, http.MethodPost, path, body)
			if err != nil && !strings.Contains(err.Error(), "broken pipe") && !strings.Contains(err.Error(), "reset by peer") {
				return err
			}
			if statuses[a.Status]++; err == nil && (a.Status < 400 || a.Status >= 500) {
				wrong = errors.Join(wrong, fmt.Errorf("%s to %s answered %d", name, path, a.Status))
			}
		}
	}
	after, err := s.entries(ctx)
	if after != before {
		wrong = errors.Join(wrong, fmt.Errorf("refused bodies left %d entries", after-before))
	}
	f.say("flood", fmt.Sprintf("broken and oversized bodies: statuses %v (0: connection ended), no entry written", statuses), errors.Join(wrong, err))
	return nil
}

func badBodies() map[string][]byte {
	return map[string][]byte{
		"nothing":          {},
		"null":             []byte("null"),
		"no JSON":          []byte("this is no record"),
		"half a record":    []byte(`{"applied_on": "2026-`),
		"two documents":    []byte(`{} {}`),
		"nesting":          bytes.Repeat([]byte("["), 200_000),
		"nested objects":   bytes.Repeat([]byte(`{"a":`), 100_000),
		"not UTF-8":        []byte("{\"note\": \"\xff\xfe\"}"),
		"zero byte":        []byte(`{"note": "\u0000", "supplier": "\u0000"}`),
		"a huge number":    []byte(`{"containers": 1` + strings.Repeat("0", 100_000) + `}`),
		"a huge text":      []byte(`{"note": "` + strings.Repeat("x", 900_000) + `"}`),
		"forty megabytes":  []byte(`{"note": "` + strings.Repeat("x", 40<<20) + `"}`),
		"many keys":        []byte(`{` + strings.Repeat(`"a":1,`, 100_000) + `"b":1}`),
		"the wrong shapes": []byte(`{"source": [], "ground": 7, "applied_on": {}, "amount": "1", "bed_ids": {"a": 1}}`),
	}
}

// holdOpen opens connections that send a request byte by byte, a byte a second.
func holdOpen(ctx context.Context, address string, count int) ([]net.Conn, error) {
	var out []net.Conn
	for range count {
		c, err := new(net.Dialer).DialContext(ctx, "tcp", strings.TrimPrefix(address, "http://"))
		if err != nil {
			return out, err
		}
		out = append(out, c)
		go func() {
			for _, b := range []byte("POST /v1/applications HTTP/1.1\r\nHost: slow\r\n" + strings.Repeat("X", 200)) {
				if _, err := c.Write([]byte{b}); err != nil {
					return
				}
				time.Sleep(time.Second)
			}
		}()
	}
	return out, nil
}

// closedBy counts the connections that the other side ends in time.
func closedBy(conns []net.Conn, patience time.Duration) (closed int, err error) {
	end := time.Now().Add(patience)
	for c := range slices.Values(conns) {
		c.SetReadDeadline(end)
		_, readErr := c.Read(make([]byte, 1))
		var timeout net.Error
		if !errors.As(readErr, &timeout) || !timeout.Timeout() {
			closed++
		}
		c.Close()
	}
	if closed < len(conns) {
		err = fmt.Errorf("%d slow connections were still open after %s", len(conns)-closed, patience)
	}
	return closed, err
}
