package api_test

import (
	"fmt"
	"net/http"
	"reflect"
	"slices"
	"strings"
	"testing"
	"time"

	"croftmark/domain"
)

// A parameter that the document declares as a list is given once for each; any other is given once.
func TestLoggerFileWithSeveralProbes(t *testing.T) {
	t.Parallel()
	x := newField(t)
	batch := x.post(domain.Crew, "/v1/compost-batches", fields{"code": "W1", "method": "turned-windrow", "started_on": "2026-03-01",
		"ingredients": []fields{{"feedstock": "horse manure", "amount": quantity("900", "lb"), "animal_origin": true}}}).id()
	send := func(query string) *answer {
		return x.table(domain.Crew, "/v1/compost-batches/"+batch+"/temperatures.csv?"+query, "when,\"North, deep\",South\n2026-03-02 08:00,140,138\n", "")
	}
	x.unchanged(func() {
		send("time=when&time=when&probes=South&unit=degF").problem(http.StatusUnprocessableEntity, domain.CodeInvalid)
		send("time=when&probes=South&probes=%01&unit=degF").problem(http.StatusUnprocessableEntity, domain.CodeInvalid)
	})
	report := send("time=when&probes=North,%20deep=P1&probes=South=P2&unit=degF").is(http.StatusCreated).fields()
	if report["readings"] != float64(2) {
		t.Errorf("two probes gave %v", report)
	}
	records := x.get(domain.Reader, "/v1/compost-temperatures").is(http.StatusOK).list()
	var probes []string
	for _, record := range records {
		for _, reading := range record["readings"].([]any) {
			probes = append(probes, reading.(fields)["probe"].(string))
		}
	}
	if slices.Sort(probes); !slices.Equal(probes, []string{"P1", "P2"}) {
		t.Errorf("the readings are of probes %v", probes)
	}
}

// A logger's file sent again with its key, because the answer got lost, is answered with what the first made.
func TestLoggerFileSentAgain(t *testing.T) {
	t.Parallel()
	x := newField(t)
	batch := x.post(domain.Crew, "/v1/compost-batches", fields{"code": "W1", "method": "turned-windrow", "started_on": "2026-03-01",
		"ingredients": []fields{{"feedstock": "horse manure", "amount": quantity("900", "lb"), "animal_origin": true}}}).id()
	file := strings.Builder{}
	file.WriteString("when,P1\n")
	at := time.Date(2026, 3, 2, 8, 0, 0, 0, time.UTC)
	for i := range 5001 { // more than one record holds
		fmt.Fprintf(&file, "%s,140\n", at.Add(time.Duration(i)*time.Minute).Format(time.RFC3339))
	}
	send := func() *answer {
		return x.table(domain.Crew, "/v1/compost-batches/"+batch+"/temperatures.csv?time=when&probes=P1&unit=degF", file.String(), "same-file")
	}
	first := send().is(http.StatusCreated).fields()
	if made := first["records"].([]any); len(made) != 2 {
		t.Errorf("made %v, want two records", made)
	}
	x.unchanged(func() {
		if again := send().is(http.StatusOK).fields(); !reflect.DeepEqual(again, first) {
			t.Errorf("sent again it was answered %v, want %v", again, first)
		}
	})
}
