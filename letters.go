package main

import (
	"context"
	"flag"
	"fmt"
	"os"
	"strings"
	"time"

	"croftmark/post"
	"croftmark/storage"
)

// letters are the settings by which the service sends daily messages.
type letters struct {
	post.Config
	passwordFile string
}

func (l *letters) flags(flags *flag.FlagSet) {
	flags.StringVar(&l.SMTP, "smtp", os.Getenv("CROFTMARK_SMTP"), "mail server for daily messages: smtp://USER@HOST:587 (STARTTLS) or smtps://USER@HOST:465; its password in CROFTMARK_SMTP_PASSWORD or --smtp-password-file")
	flags.StringVar(&l.From, "mail-from", os.Getenv("CROFTMARK_MAIL_FROM"), "address that daily messages come from")
	flags.StringVar(&l.passwordFile, "smtp-password-file", "", "file with the password of the mail server")
	flags.BoolVar(&l.WebhookPrivate, "webhook-private", false, "let webhooks lie on this machine and on private networks, there also without https")
}

// open reads the password and checks the settings.
func (l *letters) open() (*post.Sender, error) {
	l.Password, l.Version = os.Getenv("CROFTMARK_SMTP_PASSWORD"), version
	if l.passwordFile != "" {
		raw, err := os.ReadFile(l.passwordFile)
		if err != nil {
			return nil, fmt.Errorf("--smtp-password-file: %w", err)
		}
		l.Password = strings.TrimRight(string(raw), "\r\n")
	}
	if l.SMTP == "" {
		l.Password = "" // set for another program of this machine
	}
	return post.New(l.Config)
}

// sendDaily sends the daily messages until it is stopped, and then lets what is being sent finish.
func (s settings) sendDaily(db *storage.DB, sender *post.Sender) (stop func(), err error) {
	queue, err := storage.NewQueue(db, storage.QueueConfig{Send: sender.Send, Log: s.log})
	if err != nil {
		return nil, err
	}
	queue.Start()
	return func() {
		ctx, cancel := context.WithTimeout(context.Background(), 30*time.Second)
		defer cancel()
		if err := queue.Stop(ctx); err != nil {
			s.log.Warn("a daily message was cut off", "error", err)
		}
	}, nil
}
