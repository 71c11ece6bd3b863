package api

import (
	"context"
	"crypto/subtle"
	"encoding/json"
	"net/http"
	"sync"

	"github.com/labstack/echo/v4"

	"croftmark/domain"
)

// firstFarm lets whoever started the service on an empty database open its one farm from a browser. The code is shown on
// the terminal only, opens one farm, and is gone with the process.
type firstFarm struct {
	mu    sync.Mutex
	code  string // empty: nothing is to be opened
	taken func(context.Context) (bool, error)
}

// open tells whether a farm may still be opened. Another copy of the service may have opened one since the start.
func (f *firstFarm) open(ctx context.Context) (bool, error) {
	if f.code == "" || f.taken == nil {
		return f.code != "", nil
	}
	taken, err := f.taken(ctx)
	if taken {
		f.code = ""
	}
	return !taken && err == nil, err
}

type firstFarmRequest struct {
	Code      string   `json:"code"`
	Farm      string   `json:"farm"`
	TimeZone  string   `json:"time_zone"`
	Units     string   `json:"units"`
	Owner     string   `json:"owner"`
	Initials  string   `json:"initials"`
	Language  string   `json:"language"`
	Standards []string `json:"standards"` // ids of rule sets; each holds from the day it came into force
}

// registerFirstFarm gives the guided first run its two addresses. They stand beside the interface of the books: nobody is
// signed in yet, and after the first farm they answer not found.
func (s *Server) registerFirstFarm() {
	s.first = &firstFarm{code: s.config.FirstFarmCode, taken: s.config.FirstFarmTaken}
	s.echo.GET("/first-farm", func(c echo.Context) error {
		s.first.mu.Lock()
		defer s.first.mu.Unlock()
		open, err := s.first.open(c.Request().Context())
		if err != nil {
			return err
		}
		return c.JSON(http.StatusOK, map[string]bool{"open": open})
	})
	s.echo.POST("/first-farm", s.openFirstFarm)
}

func (s *Server) openFirstFarm(c echo.Context) error {
	var body firstFarmRequest
	decoder := json.NewDecoder(http.MaxBytesReader(c.Response(), c.Request().Body, 16<<10))
	decoder.DisallowUnknownFields()
	if err := decoder.Decode(&body); err != nil || decoder.More() {
		return domain.Refuse(domain.CodeInvalid, titles[domain.CodeInvalid], "Send one JSON object with code, farm, time_zone, owner, initials and standards.")
	}
	if err := s.signIns.spent(c.RealIP()); err != nil {
		return err
	}
	s.first.mu.Lock()
	defer s.first.mu.Unlock()
	open, err := s.first.open(c.Request().Context())
	if err != nil {
		return err
	}
	if !open || subtle.ConstantTimeCompare([]byte(s.first.code), []byte(body.Code)) != 1 {
		s.signIns.take(c.RealIP()) // the next one may be too many, this one gets its answer
		return domain.Refuse(domain.CodeNotAllowed, "Not the code of this start", "The code stands on the terminal where the service was started, and works once. Start the service again for a new one.")
	}
	farm := &domain.Farm{Name: body.Farm, TimeZone: body.TimeZone, Units: body.Units}
	for _, id := range body.Standards {
		set, ok := domain.RuleSetByID(id)
		if !ok {
			return domain.Refuse(domain.CodeInvalid, titles[domain.CodeInvalid], "There is no rule set %q to adopt.", id)
		}
		farm.Standards = append(farm.Standards, domain.AdoptedStandard{Set: id, From: set.From})
	}
	opened, err := s.db.OpenFarm(c.Request().Context(), farm, &domain.Person{Name: body.Owner, Initials: body.Initials, Language: body.Language})
	if err != nil {
		return err
	}
	s.first.code = ""
	return c.JSON(http.StatusCreated, opened)
}
