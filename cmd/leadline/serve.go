package main

import (
	"fmt"

	"github.com/spf13/cobra"

	"leadline/internal/api"
)

func (p *program) serveCmd() *cobra.Command {
	var listen, token string
	c := &cobra.Command{
		Use:   "serve",
		Short: "show the logbook and its flights in a browser on this machine",
		Long: `serve opens the logbook on a page of this machine's own address. It listens on loopback only;
another address needs --token, which the page then asks for.`,
		Example: `  leadline serve
  leadline serve --logbook campaign.db --listen 127.0.0.1:9000`,
		Args: cobra.NoArgs,
		RunE: func(cmd *cobra.Command, args []string) error {
			bench, closeStore, err := p.openOrMake()
			if err != nil {
				return err
			}
			defer closeStore()
			listener, err := api.Listen(listen, token)
			if err != nil {
				return err
			}
			fmt.Fprintf(p.out, "open http://%s/ in a browser; Ctrl-C ends\n", listener.Addr())
			return api.Serve(cmd.Context(), listener, api.New(bench, api.Options{Token: token, Recovery: p.recoveryLog()}))
		},
	}
	c.Flags().StringVar(&listen, "listen", api.DefaultAddress, "address and port")
	c.Flags().StringVar(&token, "token", "", "word that a browser elsewhere must give")
	return c
}
