package storage

import (
	"context"
	"encoding/binary"
	"fmt"
	"math"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgtype"

	"croftmark/domain"
)

// Every statement carries ids and days. The driver knows neither type of ours and would take both by way of texts and times;
// here they go as they lie in memory.

// knowOurTypes teaches a new connection ids and days, alone and in lists.
func knowOurTypes(_ context.Context, conn *pgx.Conn) error {
	m := conn.TypeMap()
	for _, t := range []struct {
		name      string
		oid, list uint32
		codec     pgtype.Codec
	}{{"uuid", pgtype.UUIDOID, pgtype.UUIDArrayOID, idCodec{}}, {"date", pgtype.DateOID, pgtype.DateArrayOID, dayCodec{}}} {
		one := &pgtype.Type{Name: t.name, OID: t.oid, Codec: t.codec}
		m.RegisterType(one)
		m.RegisterType(&pgtype.Type{Name: "_" + t.name, OID: t.list, Codec: &pgtype.ArrayCodec{ElementType: one}})
	}
	return nil
}

type idCodec struct{ pgtype.UUIDCodec }

func (c idCodec) PlanEncode(m *pgtype.Map, oid uint32, format int16, value any) pgtype.EncodePlan {
	if _, ok := value.(uuid.UUID); ok && format == pgtype.BinaryFormatCode {
		return idPlan{}
	}
	return c.UUIDCodec.PlanEncode(m, oid, format, value)
}

func (c idCodec) PlanScan(m *pgtype.Map, oid uint32, format int16, target any) pgtype.ScanPlan {
	if _, ok := target.(*uuid.UUID); ok && format == pgtype.BinaryFormatCode {
		return idPlan{}
	}
	return c.UUIDCodec.PlanScan(m, oid, format, target)
}

type idPlan struct{}

func (idPlan) Encode(value any, buf []byte) ([]byte, error) {
	id := value.(uuid.UUID)
	return append(buf, id[:]...), nil
}

// Scan leaves the id as it is for NULL, as the type itself does.
func (idPlan) Scan(src []byte, target any) error {
	if src == nil {
		return nil
	}
	if len(src) != len(uuid.UUID{}) {
		return fmt.Errorf("an id of %d bytes", len(src))
	}
	copy(target.(*uuid.UUID)[:], src)
	return nil
}

type dayCodec struct{ pgtype.DateCodec }

func (c dayCodec) PlanEncode(m *pgtype.Map, oid uint32, format int16, value any) pgtype.EncodePlan {
	if _, ok := value.(domain.Date); ok && format == pgtype.BinaryFormatCode {
		return dayPlan{}
	}
	return c.DateCodec.PlanEncode(m, oid, format, value)
}

func (c dayCodec) PlanScan(m *pgtype.Map, oid uint32, format int16, target any) pgtype.ScanPlan {
	if _, ok := target.(*domain.Date); ok && format == pgtype.BinaryFormatCode {
		return dayPlan{}
	}
	return c.DateCodec.PlanScan(m, oid, format, target)
}

type dayPlan struct{}

// dayNought is the day that PostgreSQL counts days from.
var dayNought = domain.NewDate(2000, 1, 1)

// Encode gives NULL for a day that was not given.
func (dayPlan) Encode(value any, buf []byte) ([]byte, error) {
	d := value.(domain.Date)
	if d.IsZero() {
		return nil, nil
	}
	return binary.BigEndian.AppendUint32(buf, uint32(int32(d.DaysSince(dayNought)))), nil
}

// Scan takes NULL for a day that was not given. An endless day has no calendar day.
func (dayPlan) Scan(src []byte, target any) error {
	d := target.(*domain.Date)
	if src == nil {
		*d = domain.Date{}
		return nil
	}
	if len(src) != 4 {
		return fmt.Errorf("a date of %d bytes", len(src))
	}
	n := int32(binary.BigEndian.Uint32(src))
	if n == math.MaxInt32 || n == math.MinInt32 {
		return fmt.Errorf("cannot read an infinite date")
	}
	*d = dayNought.AddDays(int(n))
	return nil
}
