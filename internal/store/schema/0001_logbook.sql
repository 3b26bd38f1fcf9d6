-- The logbook. Bytes and decisions are only ever inserted; rows of the list are derived.

create table blob (
  sha256 text primary key,          -- lower-case hexadecimal, of bytes
  bytes  blob not null,
  packed integer not null default 0 -- 1: bytes are zstd-compressed, sha256 is of the plain bytes
) without rowid, strict;

create table flight (
  id          integer primary key,
  name        text not null,
  fingerprint text not null,
  record_name text not null, record_sha256 text not null references blob,
  sheet_name  text not null, sheet_sha256  text not null references blob,
  settings_name text not null, settings_sha256 text not null references blob,
  added_utc   text not null,
  revision    integer not null default 0
) strict;
create index flight_fingerprint on flight (fingerprint);

create table source (
  flight   integer not null references flight,
  position integer not null,
  name     text not null,
  sha256   text not null references blob,
  recipe_name text not null, recipe_sha256 text not null references blob,
  part     integer not null,
  options  text not null,           -- JSON: what the user said about the source
  primary key (flight, position)
) without rowid, strict;
create index source_sha256 on source (sha256);

-- What people ruled, in order. kind is decision or revocation; json is the decision, or
-- who revoked which, when and why.
create table ruling (
  flight   integer not null references flight,
  revision integer not null,        -- of the flight after it
  kind     text not null check (kind in ('decision', 'revocation')),
  decision text not null,           -- "d1", "d2", …
  json     text not null,
  primary key (flight, revision)
) without rowid, strict;

create table row (
  flight integer primary key references flight,
  json   text not null
) strict;
