package api_test

import (
	"bytes"
	"net/http"
	"strings"
	"testing"

	"croftmark/domain"
)

func TestPlanPaper(t *testing.T) {
	t.Parallel()
	x := newFarm(t)
	for _, query := range []string{"", "?language=es", "?size=a4"} {
		a := x.get(domain.Reader, "/v1/plan.pdf"+query).is(http.StatusOK)
		if !bytes.HasPrefix(a.Body, []byte("%PDF-")) || !strings.Contains(a.Header.Get("Content-Disposition"), "traceability-plan.pdf") {
			t.Errorf("plan%s: %.20q, %v", query, a.Body, a.Header)
		}
		if spanish := bytes.Contains(a.Body, []byte("/Lang (es-US)")); spanish != (query == "?language=es") {
			t.Errorf("plan%s: in Spanish: %t", query, spanish)
		}
		if wide := bytes.Contains(a.Body, []byte("595.28")); wide != (query == "?size=a4") {
			t.Errorf("plan%s: on A4: %t", query, wide)
		}
	}
	x.get(domain.Reader, "/v1/plan.pdf?size=a5").problem(http.StatusUnprocessableEntity, domain.CodeInvalid)
}
