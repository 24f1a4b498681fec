// Package signin says who looks at the page and what that person may do.
//
// Passwords and guest links stand in a file of their own beside the database, so that
// they can be set while the daemon runs and do not leave the house with a copy of it.
// Whoever has signed in carries a token that is signed and ends; changing a password
// ends all tokens made with it.
package signin
