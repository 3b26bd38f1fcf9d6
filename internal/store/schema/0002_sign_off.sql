-- Signatures, reopenings, undo and redo are steps of a flight's history like decisions.
-- json of a signature is the signature; of every other step that is no decision it says who,
-- when and why. decision is '' for signatures and reopenings.

create table history (
  flight   integer not null references flight,
  revision integer not null,        -- of the flight after it
  kind     text not null check (kind in ('decision', 'revocation', 'undo', 'redo', 'signature', 'reopening')),
  decision text not null,           -- "d1", "d2", …
  json     text not null,
  primary key (flight, revision)
) without rowid, strict;
insert into history select flight, revision, kind, decision, json from ruling;
drop table ruling;
alter table history rename to ruling;

-- History is only ever added to.
create trigger ruling_stays before update on ruling begin
  select raise(abort, 'a step of the history cannot be changed');
end;
create trigger ruling_remains before delete on ruling begin
  select raise(abort, 'a step of the history cannot be removed');
end;
