' Blockwright for LibreOffice Basic. Made by: blockwright spreadsheet basic
'
' Install: Tools - Macros - Organise Macros - Basic, a new module in the library Standard, paste this text.
' The service's address is in BW_ADDRESS below; a defined name ServiceAddress in the document goes before it.
'
'   in a cell       =BwValue("compression/static"; "static_ratio"; A2:B9)        names in A, values in B
'                   =BwValue("compression/static"; "static_ratio"; "units=inch&bore=4.155&...")
'                   =Bw_compression_static("static_ratio"; "inch"; 4.155; 3.9; 70.5; 0.041; 0.01; "gasket_bore=4.2")
'   what it takes   {=BwInputs("compression/static")}   {=BwResults("compression/static")}   {=BwCalculations()}
'   a whole table   select it with its header of names (a unit may follow: bore [mm]), then run BwTableOfSelection:
'                   one call answers all rows; or {=BwTable("compression/static"; "units=inch"; A1:F500)}
'   does it work?   run BwShowSelfTest
'
' Numbers go out and come in with a decimal point whatever the country. What is refused comes back as a text that begins
' with #ERR. Read the cautions: nothing here replaces measuring the parts and a qualified machinist.
Option Explicit

Const BW_ADDRESS = "http://127.0.0.1:8080"

Dim bwAddressInUse As String

' Takes another address until the office is closed.
Sub BwUseAddress(address As String)
  bwAddressInUse = address
End Sub

Function BwAddress() As String
  BwAddress = bwAddressInUse
  If BwAddress = "" Then BwAddress = BwAddressIn(ThisComponent)
End Function

Function BwAddressIn(document As Object) As String
  BwAddressIn = BW_ADDRESS
  On Error Resume Next
  If document.NamedRanges.hasByName("ServiceAddress") Then
    BwAddressIn = document.NamedRanges.getByName("ServiceAddress").getReferredCells().getCellByPosition(0, 0).String
  End If
End Function

' A range that a cell formula names arrives as an array already.
Function BwCells(inputs As Variant) As Variant
  BwCells = inputs
End Function

Function BwEncode(text As String) As String
  BwEncode = createUnoService("com.sun.star.sheet.FunctionAccess").callFunction("ENCODEURL", Array(text))
End Function

Function BwGet(url As String) As String
  BwGet = createUnoService("com.sun.star.sheet.FunctionAccess").callFunction("WEBSERVICE", Array(url))
End Function

' The office's own way to send a body; no extension is needed.
Function BwPost(url As String, media As String, body As String) As String
  Dim sent As Object, received As Object, writer As Object, reader As Object, broker As Object, content As Object
  Dim order As New com.sun.star.ucb.Command
  Dim letter As New com.sun.star.ucb.PostCommandArgument2
  sent = createUnoService("com.sun.star.io.Pipe")
  writer = createUnoService("com.sun.star.io.TextOutputStream")
  writer.setOutputStream(sent)
  writer.setEncoding("UTF-8")
  writer.writeString(body)
  writer.closeOutput()
  received = createUnoService("com.sun.star.io.Pipe")
  letter.Source = sent
  letter.Sink = received
  letter.MediaType = media
  order.Name = "post"
  order.Handle = -1
  order.Argument = letter
  broker = createUnoService("com.sun.star.ucb.UniversalContentBroker")
  content = broker.queryContent(broker.createContentIdentifier(url))
  content.execute(order, 0, Nothing)
  received.closeOutput()
  reader = createUnoService("com.sun.star.io.TextInputStream")
  reader.setInputStream(received)
  reader.setEncoding("UTF-8")
  BwPost = reader.readString(Array(), False)
  reader.closeInput()
End Function

' Asks what to compute, then fills the selected table.
Sub BwTableOfSelection()
  Dim calculation As String, constants As String
  calculation = InputBox("Which calculation? One of BwCalculations, such as compression/static", "Blockwright", "compression/static")
  If calculation = "" Then Exit Sub
  constants = InputBox("What is the same in every row?", "Blockwright", "units=inch")
  MsgBox BwFillTable(ThisComponent.CurrentSelection, calculation, constants)
End Sub

' Writes the results of a table beside it; says what was done.
Function BwFillTable(cells As Object, calculation As String, constants As String) As String
  Dim answer As Variant, place As Object, target As Object, given As Long, rows() As Variant, row() As Variant
  Dim across As Long, down As Long
  answer = BwTable(calculation, constants, BwFromRows(cells.getDataArray()))
  place = cells.getRangeAddress()
  given = place.EndColumn - place.StartColumn + 1
  If UBound(answer, 2) < given + 1 Then
    BwFillTable = answer(UBound(answer, 1), 1)
    Exit Function
  End If
  ReDim rows(0 To UBound(answer, 1) - 1)
  For down = 1 To UBound(answer, 1)
    ReDim row(0 To UBound(answer, 2) - given - 1)
    For across = given + 1 To UBound(answer, 2)
      row(across - given - 1) = answer(down, across)
    Next across
    rows(down - 1) = row
  Next down
  target = cells.getSpreadsheet().getCellRangeByPosition(place.EndColumn + 1, place.StartRow, _
    place.EndColumn + UBound(answer, 2) - given, place.StartRow + UBound(answer, 1) - 1)
  target.setDataArray(rows)
  BwFillTable = (UBound(answer, 1) - 1) & " rows, " & (UBound(answer, 2) - given) & " result columns"
End Function

' The office's rows of rows as one table.
Function BwFromRows(rows As Variant) As Variant
  Dim table() As Variant, across As Long, down As Long
  ReDim table(1 To UBound(rows) + 1, 1 To UBound(rows(0)) + 1)
  For down = 0 To UBound(rows)
    For across = 0 To UBound(rows(0))
      table(down + 1, across + 1) = rows(down)(across)
    Next across
  Next down
  BwFromRows = table
End Function

Sub BwShowSelfTest()
  MsgBox BwSelfTest()
End Sub
