package storage

import (
	"context"
	"errors"
	"log/slog"
	"sync"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"
	"github.com/riverqueue/river"
	"github.com/riverqueue/river/riverdriver/riverpgxv5"
	"github.com/riverqueue/river/rivertype"

	"croftmark/domain"
)

// dailyJob names one message of one day. Jobs are not kept by farm, so there is nothing in them but ids and the day; not
// even why a try failed, which the message itself bears.
type dailyJob struct {
	Farm    uuid.UUID   `json:"farm_id"`
	Message uuid.UUID   `json:"message_id"`
	Day     domain.Date `json:"day"`
}

// Kind names the work in the queue's table.
func (dailyJob) Kind() string { return "daily-message" }

// QueueConfig is what the queue needs beside its database.
type QueueConfig struct {
	// Send hands a letter over, or says in words for its person why it could not.
	Send func(context.Context, domain.DailyLetter) error
	Log  *slog.Logger
	// Every is how often it is looked up what is to be sent, Poll how often the queue; Waits are the times between tries. The
	// usual ones when zero.
	Every, Poll time.Duration
	Waits       []time.Duration
}

// usualWaits are five tries more over four hours: a mail server that is being mended, an office that opens at eight.
var usualWaits = []time.Duration{time.Minute, 5 * time.Minute, 20 * time.Minute, time.Hour, 150 * time.Minute}

// queueSchema is where migrations make the queue's tables.
const queueSchema = "croftmark_queue"

// sendTimeout is the most that one try may take.
const sendTimeout = time.Minute

// Queue sends the daily messages. Any number of copies may run on one database: a day of a message is one job, whoever
// finds that it is to be sent.
type Queue struct {
	db     *DB
	config QueueConfig
	client *river.Client[pgx.Tx]
	begun  bool // the looks' alone until they have ended
	looks  sync.WaitGroup

	stop, stopLooking context.CancelFunc
}

// NewQueue makes the queue; Start begins to send.
func NewQueue(db *DB, config QueueConfig) (*Queue, error) {
	q := &Queue{db: db, config: config}
	if q.config.Every == 0 {
		q.config.Every, q.config.Poll = time.Minute, 5*time.Second
	}
	if q.config.Waits == nil {
		q.config.Waits = usualWaits
	}
	workers := river.NewWorkers()
	river.AddWorker(workers, &dailyWorker{queue: q})
	// It polls instead of listening: that holds no connection, and works through a pooler of connections.
	var err error
	q.client, err = river.NewClient(riverpgxv5.New(db.pool), &river.Config{Schema: queueSchema, Workers: workers, PollOnly: true, FetchPollInterval: q.config.Poll,
		FetchCooldown: min(q.config.Poll, 100*time.Millisecond), JobTimeout: sendTimeout, RescueStuckJobsAfter: 10 * sendTimeout,
		Queues: map[string]river.QueueConfig{river.QueueDefault: {MaxWorkers: 2}}, Logger: slog.New(atLeast{config.Log.Handler(), slog.LevelError + 1})})
	return q, err
}

// atLeast keeps the queue's own lines out of the log: a try that failed is told by the worker, in our words.
type atLeast struct {
	slog.Handler
	level slog.Level
}

func (h atLeast) Enabled(_ context.Context, l slog.Level) bool { return l >= h.level }
func (h atLeast) WithAttrs(a []slog.Attr) slog.Handler {
	return atLeast{h.Handler.WithAttrs(a), h.level}
}
func (h atLeast) WithGroup(name string) slog.Handler {
	return atLeast{h.Handler.WithGroup(name), h.level}
}

// Start looks at once, and then again and again, for what is to be sent, and sends it. Where the database takes no writes yet,
// because it is a standby, sending begins when it does; the book answers questions meanwhile.
func (q *Queue) Start() {
	sending, stop := context.WithCancel(context.Background())
	looking, look := context.WithCancel(sending)
	q.stop, q.stopLooking = stop, look
	q.looks.Go(func() {
		next := time.NewTicker(q.config.Every)
		defer next.Stop()
		for {
			if err := q.begin(sending); err != nil && looking.Err() == nil {
				q.config.Log.Warn("daily messages can not be sent yet", "error", err)
			} else if err := q.look(looking); err != nil && looking.Err() == nil {
				q.config.Log.Error("daily messages could not be looked up", "error", err)
			}
			select {
			case <-looking.Done():
				return
			case <-next.C:
			}
		}
	})
}

// begin starts the queue's own work, once.
func (q *Queue) begin(ctx context.Context) error {
	if q.begun {
		return nil
	}
	err := translate(q.client.Start(ctx))
	q.begun = err == nil
	return err
}

// Stop lets what is being sent finish, as long as the context allows.
func (q *Queue) Stop(ctx context.Context) error {
	defer q.stop()
	q.stopLooking()
	q.looks.Wait()
	if !q.begun {
		return nil
	}
	return q.client.Stop(ctx)
}

// look puts a job into the queue for each message whose hour has come and whose day is not settled. The same day of the same
// message is one job, whatever became of it.
func (q *Queue) look(ctx context.Context) error {
	now := q.db.instant()
	rows, err := q.db.pool.Query(ctx, `select farm_id, id, hour, settled_on, time_zone from croftmark_daily_messages($1)`, now)
	if err != nil {
		return translate(err)
	}
	type waiting struct {
		Farm, ID uuid.UUID
		Hour     int
		Settled  domain.Date
		Zone     string
	}
	list, err := pgx.CollectRows(rows, pgx.RowToStructByPos[waiting])
	if err != nil {
		return err
	}
	once := &river.InsertOpts{MaxAttempts: len(q.config.Waits) + 1, UniqueOpts: river.UniqueOpts{ByArgs: true, ByState: rivertype.JobStates()}}
	var failed error
	for _, w := range list {
		zone, err := domain.Zone(w.Zone)
		if err == nil {
			if day, now := domain.DayToSend(now, zone, w.Hour, w.Settled); now {
				_, err = q.client.Insert(ctx, dailyJob{w.Farm, w.ID, day}, once)
			}
		}
		failed = errors.Join(failed, err)
	}
	return failed
}

// errNotSent is all that the queue is told of a try that failed.
var errNotSent = errors.New("not sent; the message says why")

type dailyWorker struct {
	river.WorkerDefaults[dailyJob]
	queue *Queue
}

// NextRetry spreads the tries.
func (w *dailyWorker) NextRetry(job *river.Job[dailyJob]) time.Time {
	waits := w.queue.config.Waits
	return time.Now().Add(waits[min(max(job.Attempt, 1), len(waits))-1])
}

// Work sends the message of a day, unless that is settled, over, or nobody's wish any more. Between handing over and noting
// it the program may be killed; then it is handed over once more, with the same name, rather than never.
func (w *dailyWorker) Work(ctx context.Context, job *river.Job[dailyJob]) error {
	q, at := w.queue, job.Args
	d, err := q.db.daily(ctx, at.Farm, at.Message)
	var e *domain.Error
	if errors.As(err, &e) && e.Code == domain.CodeNotFound {
		return nil // it was ended
	}
	if err != nil {
		return q.tell(at, err, errNotSent)
	}
	zone, err := domain.Zone(d.zone)
	if err != nil {
		return q.tell(at, err, errNotSent)
	}
	last := job.Attempt >= job.MaxAttempts
	switch {
	case !at.Day.After(d.SettledOn):
		return nil
	case d.Ended:
		return q.settle(ctx, at, "the time of the person, or the token by which it was asked for, has ended", true)
	case domain.DateIn(q.db.instant(), zone) != at.Day:
		return q.settle(ctx, at, "the day was over before it could be sent", true)
	}
	l, err := q.db.letter(ctx, at.Farm, d)
	if err != nil {
		return q.tell(at, err, errNotSent)
	}
	if err := q.config.Send(ctx, l); err != nil {
		return q.tell(at, errors.Join(errNotSent, q.settle(context.WithoutCancel(ctx), at, domain.FailureText(err), last)), errNotSent)
	}
	return q.settle(context.WithoutCancel(ctx), at, "", true)
}

// tell logs that a try failed, by ids and without what a farm wrote, and gives the queue what it may keep.
func (q *Queue) tell(at dailyJob, err, kept error) error {
	q.config.Log.Warn("a daily message was not sent", "farm", at.Farm, "message", at.Message, "day", at.Day.String(), "error", err)
	return kept
}

// settle notes what became of a day; it is over for good unless another try follows.
func (q *Queue) settle(ctx context.Context, at dailyJob, failure string, over bool) error {
	err := q.db.access(ctx, at.Farm, func(tx pgx.Tx) error {
		_, err := tx.Exec(ctx, `update daily_messages set settled_on = case when $5 then greatest(settled_on, $4) else settled_on end,
				sent_at = case when $3 = '' then $6 else sent_at end, failed_at = case when $3 = '' then null else $6 end, error = nullif($3, '')
			where farm_id = $1 and id = $2`, at.Farm, at.Message, failure, at.Day, over, q.db.instant())
		return err
	})
	if err != nil {
		return q.tell(at, err, errNotSent)
	}
	return nil
}

// daily reads one message.
func (db *DB) daily(ctx context.Context, farm, id uuid.UUID) (d dailyRow, err error) {
	err = db.read(ctx, farm, func(tx pgx.Tx) error {
		list, err := db.dailyRows(Reading{Ctx: ctx, Farm: farm}, tx, ` and m.id = $3`, id)
		if err == nil && len(list) == 0 {
			err = noDaily(id)
		}
		if err == nil {
			d = list[0]
		}
		return err
	})
	return d, err
}
