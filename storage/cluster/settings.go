package cluster

import (
	"errors"
	"fmt"
	"os"
	"os/user"
	"path/filepath"
	"strconv"
	"strings"
	"syscall"
)

// accessRules lets in nobody but the accounts of the map, over the socket.
const accessRules = "local all all peer map=croftmark\n"

// serverArgs gives every setting on the command line, where no file in the data folder
// can overrule it. The sizes suit a laptop or a small board.
func (s site) serverArgs(socket string) []string {
	settings := []string{
		"listen_addresses=",
		`unix_socket_directories="` + socket + `"`,
		"unix_socket_permissions=0700",
		"port=" + port,
		"max_connections=60",
		"shared_buffers=64MB",
		"max_wal_size=512MB",
		"fsync=" + onOff(s.durable),
		"full_page_writes=" + onOff(s.durable),
		"synchronous_commit=on",
		"timezone=UTC",
		"log_timezone=UTC",
		"lc_messages=C",
		"logging_collector=off",
		"log_destination=stderr",
	}
	args := []string{"-D", s.data()}
	for _, setting := range settings {
		args = append(args, "-c", setting)
	}
	return args
}

func onOff(on bool) string {
	if on {
		return "on"
	}
	return "off"
}

// writeAccessRules writes them at every start: the accounts change when the program is
// first run with sudo and then without.
func (s site) writeAccessRules() error {
	program, err := user.LookupId(strconv.Itoa(os.Geteuid()))
	if err != nil {
		return fmt.Errorf("look up the account of this program: %w", err)
	}
	names := []string{s.account.name}
	if program.Username != s.account.name {
		names = append(names, program.Username)
	}
	var accounts strings.Builder
	for _, name := range names {
		// A leading slash would make PostgreSQL read the name as a pattern.
		if strings.ContainsAny(name, "\"\n") || strings.HasPrefix(name, "/") {
			return sentence("The account name %q cannot be used with PostgreSQL. Run Croftmark from another account.", name)
		}
		for _, role := range []string{OwnerRole, ServiceRole} {
			fmt.Fprintf(&accounts, "croftmark \"%s\" %s\n", name, role)
		}
	}
	return errors.Join(
		s.writeOwned(filepath.Join(s.data(), "pg_hba.conf"), accessRules),
		s.writeOwned(filepath.Join(s.data(), "pg_ident.conf"), accounts.String()),
	)
}

// writeOwned puts a whole file in place at once and follows no link: as root we write
// into a folder that another account owns.
func (s site) writeOwned(path, text string) error {
	part := path + ".part"
	// Left over from a start that was killed here.
	_ = os.Remove(part)
	file, err := os.OpenFile(part, os.O_WRONLY|os.O_CREATE|os.O_EXCL|syscall.O_NOFOLLOW, 0o600)
	if err != nil {
		return fmt.Errorf("write %s: %w", path, err)
	}
	_, err = file.WriteString(text)
	if err := errors.Join(err, file.Sync(), file.Close()); err != nil {
		return fmt.Errorf("write %s: %w", path, err)
	}
	if err := s.account.own(part); err != nil {
		return err
	}
	if err := os.Rename(part, path); err != nil {
		return fmt.Errorf("write %s: %w", path, err)
	}
	return syncFolder(filepath.Dir(path))
}
