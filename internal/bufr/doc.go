// Package bufr reads and writes messages of the WMO code FM 94 BUFR, editions 2, 3 and 4: bytes on one side, descriptors and
// values on the other. It knows no sounding.
//
// Reading goes in steps:
//
//  1. A Reader finds messages in a stream, names what stands between them, and takes the sections of each apart (Message).
//  2. Compile turns the descriptors of section 3, with the Tables of the version that section 1 names, into a Program: a flat
//     list of fields whose widths, scales and references already have the operators worked in. Programs are kept.
//  3. Data.Decode runs the program over the bits of section 4. It reads only what the structure depends on (replication factors,
//     bit-maps, new reference values), checks that everything is inside the message, and notes where each block stands.
//  4. Values are read from the bits when they are asked for: whole columns of a replicated block (Table.Float64s, no allocation),
//     single elements (Subset.Number, Subset.String), or all in order (Subset.Items). An Inspector prints them.
//
// Writing goes through an Encoder, which takes the values in the order of the template, each with the descriptor it is meant for.
//
// Missing is NaN (numbers), "" (texts) or Item.Missing; a field of class 31, of one bit or an associated field has no missing.
// A message that is damaged, hostile or uses what is not carried gives an Error with byte, descriptors and hint, and nothing
// else: no half result, and memory in proportion to the bytes that are really there.
//
// Sources: WMO Manual on Codes, Volume I.2, FM 94 BUFR; tables as installed with Debian's libeccodes-data 2.28.0 (versions 2 to
// 39; later messages are read with 39). What each part is checked against stands in the tests: ecCodes value by value, two other
// decoders, the tables of the WMO's own repository.
//
// Not carried: master tables other than 0 (meteorology), edition 0 and 1, new reference values (2 03) inside replications,
// operators that stay open across the end of a replication, numbers of more than 64 bits.
package bufr
