"""Commands whose options stand once: click takes the last of several in silence."""

import click


class Once(click.Command):
    """A command that refuses an option that stands twice, of which only the last would count."""

    def parse_args(self, ctx: click.Context, args: list[str]) -> list[str]:
        """Look for options that stand twice, then parse."""
        _, _, order = self.make_parser(ctx).parse_args(args=list(args))
        for option in self.params:
            if not isinstance(option, click.Option) or option.multiple or option.is_flag:
                continue
            if order.count(option) > 1:
                name = max(option.opts, key=len)
                raise click.UsageError(f"{name} stands twice: give it once", ctx)
        return super().parse_args(ctx, args)


class Several(click.Group):
    """Such commands under one word."""

    command_class = Once
