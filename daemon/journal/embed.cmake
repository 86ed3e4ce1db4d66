# Makes one C++ source from schema/journal/*.sql, so that the programs carry their migrations.
# Run as: cmake -DSQL_DIR=... -DOUT=... -P embed.cmake
# A file NNNN_name.sql is migration number NNNN; the numbers run from 1 without a gap.
file(GLOB files ${SQL_DIR}/*.sql)
list(SORT files)
set(rows "")
set(expected 0)
foreach(file ${files})
  math(EXPR expected "${expected} + 1")
  get_filename_component(name ${file} NAME)
  if(NOT name MATCHES "^0*([1-9][0-9]*)_[a-z_]+\\.sql$" OR NOT CMAKE_MATCH_1 EQUAL expected)
    message(FATAL_ERROR "schema/journal/${name}: migration ${expected} is expected here, named "
                        "NNNN_name.sql; rename the file so that the numbers run without a gap")
  endif()
  file(READ ${file} text)
  string(APPEND rows "    Migration{${expected}, R\"sql(${text})sql\"},\n")
endforeach()
file(WRITE ${OUT} "#include \"daemon/journal/schema.h\"

namespace neap::journal {
namespace {
constexpr Migration kMigrations[] = {
${rows}};
}  // namespace

std::span<const Migration> migrations() { return kMigrations; }

}  // namespace neap::journal
")
