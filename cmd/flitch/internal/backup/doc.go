// Package backup makes copies of an installation on another disk while the daemon runs,
// keeps the newest, and puts one back. A copy is a folder: the database, examined as a
// stranger would, the configuration, and the secrets if they are wanted.
package backup
