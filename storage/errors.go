package storage

import (
	"context"
	"errors"
	"io"
	"net"
	"strings"

	"github.com/jackc/pgx/v5/pgconn"

	"croftmark/domain"
)

// constraintWords says in a grower's words what each constraint that a request can run into means. The pointer names
// the field to look at.
var constraintWords = map[string]domain.FieldError{
	"plots_name_unique":       {Pointer: "#/name", Detail: "There is already a plot of that name. Choose another."},
	"beds_name_in_force_once": {Pointer: "#/name", Detail: "There is already a bed of that name in those days. Choose another name, or end the old bed with a bed layout first."},
	"lots_used_at_most_all":   {Pointer: "#/quantity", Detail: "That is more than is left of the lot."},
}

// translate turns a database error into a domain error where it is the caller's to mend, and leaves the rest alone.
func translate(err error) error {
	var domainErr *domain.Error
	if err == nil || errors.As(err, &domainErr) {
		return err
	}
	var connect *pgconn.ConnectError // also when a server refused: another may be let in, or this one later
	var pg *pgconn.PgError
	if !errors.As(err, &connect) && errors.As(err, &pg) {
		if pg.ConstraintName == "records_pkey" {
			return domain.Refuse(domain.CodeIDReused, "This id names another record", "That id already names a record of this book. Use a new one.")
		}
		if field, ok := constraintWords[pg.ConstraintName]; ok {
			return &domain.Error{Code: domain.CodeInvalid, Title: "Not written down: something needs another look",
				Detail: field.Detail, Fields: []domain.FieldError{field}}
		}
		if pg.Code == readOnlyServer {
			return readOnlyNow()
		}
		if unavailable(pg.Code) {
			return domain.Refuse(domain.CodeUnavailable, "The book is not reachable", "The database is not ready. Send the same request again in a moment; it is written only once.")
		}
		return err
	}
	if errors.Is(err, context.DeadlineExceeded) || errors.Is(err, context.Canceled) || pgconn.Timeout(err) || isConnect(err) {
		return domain.Refuse(domain.CodeUnavailable, "The book is not reachable", "The database did not answer in time. Send the same request again; it is written only once.")
	}
	return err
}

func readOnlyNow() error {
	return domain.Refuse(domain.CodeUnavailable, "The book can't be written to just now", "The database is a read-only copy at the moment. Send the same request again in a moment; it is written only once.")
}

func isConnect(err error) bool {
	var connect *pgconn.ConnectError
	var network *net.OpError
	return errors.As(err, &connect) || errors.As(err, &network) || errors.Is(err, io.EOF) || errors.Is(err, io.ErrUnexpectedEOF) || errors.Is(err, net.ErrClosed) ||
		errors.Is(err, pgconn.ErrConnClosed)
}

// unavailable lists the SQLSTATE classes that mean "not now": connection, resources, operator intervention, the machine under
// the database, and the serialization failures that a client may simply repeat.
func unavailable(code string) bool {
	for _, class := range []string{"08", "53", "57", "58", "40"} {
		if strings.HasPrefix(code, class) {
			return true
		}
	}
	return false
}
