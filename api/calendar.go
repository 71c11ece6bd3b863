package api

import (
	"context"
	"net/http"
	"reflect"
	"strings"

	ics "github.com/arran4/golang-ical"
	"github.com/danielgtaylor/huma/v2"
	"github.com/labstack/echo/v4"

	"croftmark/domain"
	"croftmark/storage"
)

const calendarType = "text/calendar; charset=utf-8"

type calendarAnswer struct {
	URL string `json:"url" format:"uri" doc:"For a calendar program; whoever has it reads what is due. It is shown once; a new one ends it."`
}

type calendarAddressOutput struct {
	Body calendarAnswer
}

type endedOutput struct {
	Body struct {
		Ended bool `json:"ended"`
	}
}

type emptyInput struct {
	RawBody []byte
}

func (in *emptyInput) raw() []byte { return in.RawBody }

func (s *Server) registerCalendar() {
	feed := s.fileOperation("/v1/calendar.ics", "calendar", "What is due, as an iCalendar feed (RFC 5545)", "Harvest", "text/calendar")
	huma.Register(s.api, feed, func(ctx context.Context, _ *noInput) (*fileOutput, error) {
		body, err := s.calendar(ctx, actorOf(ctx))
		if err != nil {
			return nil, problemOf(ctx, err)
		}
		return &fileOutput{ContentType: calendarType, Disposition: `inline; filename="due.ics"`, Body: body}, nil
	})
	address := s.operation(http.MethodPost, "/v1/calendar-address", "new-calendar-address", "Make the secret address of your own calendar; the one before ends", "Harvest", domain.Reader,
		map[string]*huma.Response{"201": jsonResponse("Made.", s.api.OpenAPI().Components.Schemas.Schema(reflect.TypeFor[calendarAnswer](), true, "CalendarAddress"))})
	handleBody(s, address, func(ctx context.Context, _ *emptyInput, _ *addressRequest) (*calendarAddressOutput, error) {
		secret, err := s.db.NewCalendarAddress(ctx, actorOf(ctx))
		if err != nil {
			return nil, err
		}
		return &calendarAddressOutput{calendarAnswer{s.config.PublicURL + "/calendar/" + secret + ".ics"}}, nil
	})
	end := s.operation(http.MethodPost, "/v1/calendar-address/end", "end-calendar-address", "End the address of your own calendar", "Harvest", domain.Reader, nil)
	handleBody(s, end, func(ctx context.Context, _ *emptyInput, _ *addressRequest) (*endedOutput, error) {
		if err := s.db.EndCalendarAddress(ctx, actorOf(ctx)); err != nil {
			return nil, err
		}
		out := &endedOutput{}
		out.Body.Ended = true
		return out, nil
	})
	s.echo.GET("/calendar/:file", s.calendarPage)
}

// calendarPage answers a calendar program, which has nothing but the address.
func (s *Server) calendarPage(c echo.Context) error {
	secret, ok := strings.CutSuffix(c.Param("file"), ".ics")
	if !ok {
		return echo.NewHTTPError(http.StatusNotFound)
	}
	actor, err := s.db.CalendarOf(c.Request().Context(), secret)
	if err != nil {
		return err
	}
	body, err := s.calendar(c.Request().Context(), actor)
	if err != nil {
		return err
	}
	return c.Blob(http.StatusOK, calendarType, body)
}

// calendar writes every duty as an event of a whole day, in the person's language. A duty keeps its UID until it is done,
// so that a calendar program moves it instead of adding it again. Calendars are copied to other places, so nothing private is
// in it, whoever asks.
func (s *Server) calendar(ctx context.Context, actor storage.Actor) ([]byte, error) {
	actor.Role = domain.Reader
	duties, err := s.db.Due(ctx, actor)
	if err != nil {
		return nil, err
	}
	cal := ics.NewCalendarFor("croftmark")
	cal.SetMethod(ics.MethodPublish)
	cal.SetXWRCalName("Croftmark")
	cal.SetRefreshInterval("PT6H")
	for _, d := range duties.Due {
		on := d.On
		if d.Overdue { // what is late stands on today, where somebody looks
			on = duties.On
		}
		event := cal.AddEvent(dutyUID(actor, d))
		event.SetDtStampTime(s.db.Now())
		event.SetAllDayStartAt(on.Time())
		event.SetAllDayEndAt(on.AddDays(1).Time())
		event.SetTimeTransparency(ics.TransparencyTransparent)
		event.SetSummary(d.Text.In(actor.Language))
		event.SetDescription(dutySource(actor.Language, d))
	}
	return []byte(cal.Serialize(ics.WithNewLine("\r\n"))), nil // RFC 5545 section 3.1, whatever the system
}

// dutySource says who asks, and since when it is late.
func dutySource(language string, d domain.Due) string {
	text := d.Asker(language)
	if d.Overdue {
		text = domain.LocalText{En: "Late since ", Es: "Atrasado desde el "}.In(language) + d.On.String() + "\n" + text
	}
	return text + "\n" + domain.LocalText{En: domain.RecordHelper, Es: domain.RecordHelperEs}.In(language)
}

// dutyUID names a duty by what it is about.
func dutyUID(actor storage.Actor, d domain.Due) string {
	about := actor.FarmID.String()
	for _, r := range d.Records {
		about += "-" + r.ID.String()
	}
	if len(d.Records) == 0 {
		about += "-" + strings.Map(func(r rune) rune {
			if r < 'a' || r > 'z' {
				return -1
			}
			return r
		}, strings.ToLower(d.Asks.Citation+d.Text.En))
	}
	return d.Kind + "-" + about + "@croftmark"
}
