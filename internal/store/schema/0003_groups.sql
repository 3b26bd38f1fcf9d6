-- A decision made for many flights at once. json says what was decided, by whom, when and
-- why; the decisions themselves stand in the history of each flight, and "member" ties them
-- together. json of a group's revocation says who took it back as one, when and why.

create table decision_group (
  id   integer primary key,         -- "g1" is 1
  json text not null
) strict;

create table member (
  decision_group integer not null references decision_group,
  flight   integer not null references flight,
  decision text not null,           -- "d1", "d2", … of the flight
  primary key (decision_group, flight, decision)
) without rowid, strict;
create index member_flight on member (flight);

create table group_revocation (
  decision_group integer not null references decision_group,
  position integer not null,
  flights  integer not null,        -- number of flights it was taken back on
  json     text not null,
  primary key (decision_group, position)
) without rowid, strict;

-- All of it is only ever added to.
create trigger group_stays before update on decision_group begin select raise(abort, 'a group cannot be changed'); end;
create trigger group_remains before delete on decision_group begin select raise(abort, 'a group cannot be removed'); end;
create trigger member_stays before update on member begin select raise(abort, 'a part of a group cannot be changed'); end;
create trigger member_remains before delete on member begin select raise(abort, 'a part of a group cannot be removed'); end;
create trigger group_revocation_stays before update on group_revocation begin select raise(abort, 'a revocation cannot be changed'); end;
create trigger group_revocation_remains before delete on group_revocation begin select raise(abort, 'a revocation cannot be removed'); end;
