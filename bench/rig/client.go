package rig

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"net/http"
	"time"
)

// Client speaks to a service as one person of one farm.
type Client struct {
	Address string
	Token   string
	HTTP    *http.Client
	Key     string // Idempotency-Key of what is sent; none when empty
}

// NewHTTP gives connections for many clients at once.
func NewHTTP() *http.Client {
	return &http.Client{Timeout: 120 * time.Second, Transport: &http.Transport{MaxIdleConns: 256, MaxIdleConnsPerHost: 256}}
}

// Answer is what came back.
type Answer struct {
	Status int
	Header http.Header
	Body   []byte
}

// Send makes one request; a string or []byte goes as it is, anything else as JSON. A problem answered by the service is
// not an error here.
func (c Client) Send(ctx context.Context, method, path string, body any) (Answer, error) {
	var in io.Reader
	contentType := "application/json"
	switch b := body.(type) {
	case nil:
	case []byte:
		in = bytes.NewReader(b)
	case CSV:
		in, contentType = bytes.NewReader(b), "text/csv"
	case File:
		in, contentType = bytes.NewReader(b), "application/octet-stream"
	default:
		raw, err := json.Marshal(b)
		if err != nil {
			return Answer{}, err
		}
		in = bytes.NewReader(raw)
	}
	request, err := http.NewRequestWithContext(ctx, method, c.Address+path, in)
	if err != nil {
		return Answer{}, err
	}
	if c.Token != "" {
		request.Header.Set("Authorization", "Bearer "+c.Token)
	}
	if c.Key != "" {
		request.Header.Set("Idempotency-Key", c.Key)
	}
	if body != nil {
		request.Header.Set("Content-Type", contentType)
	}
	response, err := c.HTTP.Do(request)
	if err != nil {
		return Answer{}, err
	}
	defer response.Body.Close()
	raw, err := io.ReadAll(response.Body)
	return Answer{response.StatusCode, response.Header, raw}, err
}

// CSV is a body of comma-separated rows.
type CSV []byte

// File is a body of bytes that are no text.
type File []byte

// Must makes a request that has to be answered with a status of success, and reads the answer into v unless v is nil.
func (c Client) Must(ctx context.Context, method, path string, body, v any) error {
	a, err := c.Send(ctx, method, path, body)
	if err != nil {
		return err
	}
	if a.Status >= 300 {
		return fmt.Errorf("%s %s: %d %.600s", method, path, a.Status, a.Body)
	}
	if v == nil {
		return nil
	}
	return json.Unmarshal(a.Body, v)
}

// Made is what answers to new records have in common.
type Made struct {
	ID         string   `json:"id"`
	Code       string   `json:"code"`
	Entry      int64    `json:"entry"`
	CrateCodes []string `json:"crate_codes"`
}

// Create posts a record and gives its id and code.
func (c Client) Create(ctx context.Context, path string, body any) (m Made, err error) {
	err = c.Must(ctx, http.MethodPost, path, body, &m)
	return m, err
}
